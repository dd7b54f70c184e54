"""Wiring loops are told beside all other mistakes of a bench file, sorted by line, and never where there are none."""

import json
import sys
from pathlib import Path

import pytest
from chain_shapes import SHAPES
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.bench import load_bench, parse_far
from interlock.chain import check, load_without_loops
from interlock.chain.loops import loops_in
from interlock.cli.app import main
from interlock.errors import BenchError, Problem

TEXT = (SHAPES / "start_stop_station.yaml").read_text("utf-8")
LOOP = "a wiring loop without a delay"
Change = tuple[str, str]

RELAYS: Change = (
    "  q1: {",
    "".join(f"  k{n}: {{kind: plain_relay, name: relay {n}}}\n" for n in range(1, 6)) + "  q1: {",
)
ONE_RING: Change = ("wiring:\n", "wiring:\n  k1.coil: not k2.out_a\n  k2.coil: k1.out_a\n")
BUZZER: Change = ("wiring:\n", "wiring:\n  k3.coil: hood.a and not k3.out_a\n")
REST: Change = ("wiring:\n", "wiring:\n  k4.coil: hood.a\n  k5.coil: hood.a\n")
SETTLED: Change = ("wiring:\n", "wiring:\n  k1.coil: k2.out_a\n  k2.coil: k1.out_a\n  k3.coil: hood.a\n")

# What issue 4 lists, each with the words by which it is known again.
MISTAKES: dict[str, tuple[list[Change], str]] = {
    "unknown device": ([("hood.a and halt.a", "huud.a and halt.a")], "there is no device 'huud'"),
    "two drivers of one input": (
        [("  wheel.feed: q1.main", "  wheel.feed: q1.main\n  wheel.feed: q1.aux")],
        "key 'wheel.feed': it stands here twice",
    ),
    "a guard that names an unknown state": (
        [("{when: feed, from: still", "{when: feed, from: stil")],
        "'stil': there is no state of this name",
    ),
    "a property that names nothing": (
        [("demand: halt", "demand: hallt")],
        "'hallt': there is no device of this name",
    ),
    "an output that nothing reads": (
        [("  q1: {", "  spare: {kind: stop_button, name: spare stop}\n  q1: {")],
        "device 'spare': nothing reads",
    ),
    "a limit without unit": ([("within: 100 ms", "within: 100")], "within: '100' has no unit"),
    "a missing entry": ([("  place: training shop\n", "")], "missing entry 'place'"),
}


def text_with(*changes: Change) -> str:
    text = TEXT
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def told(text: str, folder: Path) -> tuple[Problem, ...]:
    file = folder / "b.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BenchError) as raised:
        load_without_loops(file)
    return raised.value.problems


def told_at(problems: tuple[Problem, ...]) -> list[str]:
    """The wires at which loops are told, in the order told."""
    return [one.what.strip("'") for one in problems if LOOP in one.why]


def test_five_mistakes_and_two_loops_come_as_one_list(tmp_path: Path) -> None:
    """Each by its own words, at its own line, sorted, with what to write instead; and no other."""
    five = [change for name in list(MISTAKES)[:5] for change in MISTAKES[name][0]]
    text = text_with(RELAYS, ONE_RING, BUZZER, REST, *five)
    problems = told(text, tmp_path)
    assert len(problems) == 5 + 3
    assert told_at(problems) == ["k3.coil", "k1.coil", "k2.coil"]
    for _, words in list(MISTAKES.values())[:5]:
        assert sum(words in str(one) for one in problems) == 1, words
    places = [(one.line, one.column) for one in problems]
    assert places == sorted(places)
    lines = text.splitlines()
    for one in problems:
        assert one.what.split("'")[1].partition(".")[0] in lines[one.line - 1]
        assert one.instead


@pytest.mark.parametrize("name", MISTAKES)
def test_a_loop_hides_no_mistake_and_no_mistake_a_loop(name: str, tmp_path: Path) -> None:
    changes, words = MISTAKES[name]
    alone = told(text_with(RELAYS, SETTLED, REST, *changes), tmp_path)
    assert told_at(alone) == []
    both = told(
        text_with(RELAYS, ONE_RING, ("wiring:\n", "wiring:\n  k3.coil: hood.a\n"), REST, *changes), tmp_path
    )
    assert told_at(both) == ["k1.coil", "k2.coil"]
    assert len(both) == len(alone) + 2
    assert any(words in str(one) for one in both)


DOUBTS: dict[str, list[Change]] = {
    "its wire names an unknown device": [("not k2.out_a", "not k2.out_a and huud.a")],
    "its wire names an unknown output": [("not k2.out_a", "not k2.out_x")],
    "its wire is no expression": [("not k2.out_a", "not k2.out_a and")],
    "its wire stands twice": [("wiring:\n", "wiring:\n  k1.coil: never\n")],
    "its input is misspelt": [("k1.coil: not", "k1.coill: not")],
    "its input is no port": [("k1.coil: not", "K1.coil: not")],
    "its kind is not known": [("k1: {kind: plain_relay", "k1: {kind: plane_relay")],
    "its entry has no kind": [("k1: {kind: plain_relay, ", "k1: {")],
    "what it reads has an unknown kind": [
        ("not k2.out_a", "go.pressed and not k2.out_a"),
        ("go: {kind: push_button", "go: {kind: posh_button"),
    ],
}


@pytest.mark.parametrize("name", DOUBTS)
def test_of_a_ring_that_may_be_meant_otherwise_no_loop_is_told(name: str, tmp_path: Path) -> None:
    """Mended, it may come to rest; the other ring, of which nothing is wrong, is told all the same."""
    problems = told(text_with(RELAYS, ONE_RING, BUZZER, REST, *DOUBTS[name]), tmp_path)
    assert told_at(problems) == ["k3.coil"]
    assert len(problems) >= 2


def test_a_broken_kind_of_the_bench_silences_only_its_own_devices(tmp_path: Path) -> None:
    kind = TEXT[TEXT.index("  line_fed_motor:") : TEXT.index("\ndevices:")]
    flips = kind.replace("line_fed_motor", "flipper").replace("not feed, from: fed", "feed, from: fed")
    flips = flips.replace("torque: fed", "out: fed")
    both: Change = ("devices:\n", f"{flips}\ndevices:\n  f1: {{kind: flipper, name: flipper}}\n")
    wired: Change = ("wiring:\n", "wiring:\n  f1.feed: q1.main\n")
    broken: Change = ("{when: feed, from: still", "{when: feed, from: stil")
    assert [one.what for one in told(text_with(both, wired), tmp_path)] == ["kind 'flipper'"]
    assert [one.what for one in told(text_with(both, wired, broken), tmp_path)] == [
        "'stil'",
        "kind 'flipper'",
    ]


def test_a_loop_behind_a_loop_is_told_once_the_first_is_mended(tmp_path: Path) -> None:
    behind: Change = ("wiring:\n", "wiring:\n  k3.coil: k1.out_b and not k3.out_a\n")
    assert told_at(told(text_with(RELAYS, ONE_RING, behind, REST), tmp_path)) == ["k1.coil", "k2.coil"]
    mended = ("k1.coil: not k2.out_a", "k1.coil: k2.out_a or hood.a")
    assert told_at(told(text_with(RELAYS, ONE_RING, behind, REST, mended), tmp_path)) == ["k3.coil"]


def test_a_ring_that_a_delay_breaks_or_that_cannot_be_met_is_no_loop(tmp_path: Path) -> None:
    by_delay: Change = ("wiring:\n", "wiring:\n  k1.coil: not t1.out_a\n  t1.coil: k1.out_a\n")
    timer: Change = (
        "  q1: {",
        "  t1: {kind: off_delay_relay, name: timer, delays: {off_delay: 1 s}}\n  q1: {",
    )
    never = ("wiring:\n", "wiring:\n  k2.coil: hood.a and not hood.a and not k2.out_a\n")
    file = tmp_path / "b.yaml"
    only_two = (RELAYS[0], RELAYS[1].split("  k3")[0] + "  q1: {")
    file.write_text(text_with(only_two, never, by_delay, timer), encoding="utf-8")
    assert load_without_loops(file) == load_bench(file)


@pytest.mark.parametrize(
    "verb", [["check"], ["plan"], ["replay", "no.log"], ["rate"], ["report", "no.log"]], ids=" ".join
)
def test_every_verb_that_proves_or_judges_tells_the_same_list(
    verb: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    problems = told(text_with(RELAYS, ONE_RING, BUZZER, REST, *MISTAKES["unknown device"][0]), tmp_path)
    (tmp_path / "no.log").write_text("", encoding="utf-8")
    name, *logs = verb
    out = ["--out", str(tmp_path / "r.pdf")] if name == "report" else []
    argv = [
        "interlock",
        name,
        str(tmp_path / "b.yaml"),
        *(str(tmp_path / one) for one in logs),
        *out,
        "--json",
    ]
    monkeypatch.setattr(sys, "argv", argv)
    monkeypatch.setattr("click.core.sys.argv", argv)
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    said = capsys.readouterr()
    assert [(one["line"], one["column"], one["what"]) for one in json.loads(said.out)["problems"]] == [
        (one.line, one.column, one.what) for one in problems
    ]
    assert said.err.splitlines() == [str(one) for one in problems]


CONTACTS = st.sampled_from(["hood.a", "halt.a", "k1.out_a", "k2.out_a", "k3.out_a", "never"])
TERMS = st.builds("{}{}".format, st.sampled_from(["", "not "]), CONTACTS)
WIRES = st.builds(str.join, st.sampled_from([" and ", " or "]), st.lists(TERMS, min_size=1, max_size=3))


@settings(max_examples=15, deadline=None)
@given(st.tuples(WIRES, WIRES, WIRES))
def test_loops_are_found_at_loading_exactly_where_the_whole_search_meets_one(coils: tuple[str, ...]) -> None:
    """`check` looks at every state of the whole bench; the rings are looked at apart, with what moves them alone."""
    three: Change = (RELAYS[0], RELAYS[1].split("  k4")[0] + "  q1: {")
    wiring = "".join(f"  k{at}.coil: {coil}\n" for at, coil in enumerate(coils, 1))
    text = text_with(three, ("wiring:\n", f"wiring:\n{wiring}"))
    parsed = parse_far("b.yaml", text)
    early = {one.what for one in loops_in(parsed)}
    try:
        check(parsed.sound())
    except BenchError as error:
        assert {one.what for one in error.problems} & early
    else:
        assert early == set()
