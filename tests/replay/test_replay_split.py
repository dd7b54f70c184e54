"""A log in two or more files says what it says in one: the same findings and bounds, or less; never more, never better.

Files one after the other, messages parted over two recorders with one clock, over two with clocks of their own that an
edge both saw brings together, and two recorders of which one lost a piece.
"""

import functools
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from replay_tape import BENCH, BENCH_FILE, COVER, DRV, LOD, MESSAGES, SAFE, Tape, judged, sound

from interlock.bench import Bench, load_bench
from interlock.replay import Finding, Judgement, replay
from interlock.verdict import Verdict

END_S: Final = 13.0  # one stop, and the next run has begun
SPOILT: Final[dict[str, Callable[[Tape], Tape]]] = {
    "sound": lambda t: t,
    "slow unit": lambda t: t.move("DrvCurrent", 0.15, COVER.on - 0.2, COVER.on + 1),
    "references kept": lambda t: t.hold("SpeedRef", COVER.on - 0.1, COVER.on + 1),
    "no reset": lambda t: t.put("ResetPb", 0, COVER.press - 0.4, COVER.release + 0.2),
    "torque within the stop": lambda t: t.add("LodCurrent", 5.0, COVER.on + 1.5, COVER.on + 1.6),
    "frames missing": lambda t: t.drop(DRV, COVER.on - 0.1, COVER.on + 0.4),
    "stamped late": lambda t: t.late(LOD, 0.05, COVER.on, COVER.on + 0.3),
}
OPEN: Final = {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}
LAW: Final = settings(max_examples=3, deadline=None)
TWIN: Final = 0x121
"""A message of the second recorder that shows the enable line of the drive too."""

ONE_CLOCK: Final = "{drift: 0 ppm, offset: {least: 0 ms, most: 0 ms}}"
EDGE: Final = (
    "{drift: 100 ppm, edges: [{here: SAFE_Twin.TwinEnable is 1, there: SAFE_State.TorqueEnableDrv is 1}]}"
)
PPM: Final = 100

parted = st.sets(st.sampled_from(sorted(set(MESSAGES.values()) - {"SAFE_State"})), min_size=1)
"""Messages of the second recorder."""


def tape(name: str) -> Tape:
    return SPOILT[name](sound()).drop(None, END_S)


@functools.cache
def whole(name: str) -> Judgement:
    with tempfile.TemporaryDirectory() as folder:
        return judged(tape(name), Path(folder))


def said(judgement: Judgement) -> dict[tuple[str, str, str, int], Finding]:
    """Each finding about the bench by function, subject, effect and number."""
    found: dict[tuple[str, str, str, int], Finding] = {}
    for one in judgement.findings:
        number = sum(key[:3] == (one.function, one.subject, one.effect) for key in found)
        if one.effect != "data_complete":
            found[one.function, one.subject, one.effect, number] = one
    return found


def never_better(split: Judgement, one: Judgement, ppm: int = 0) -> None:
    """What passes or fails does so in the whole log too; each latency is that of the whole log, or wider."""
    assert split.verdict in {one.verdict, Verdict.INCONCLUSIVE}
    expected = said(one)
    for key, finding in said(split).items():
        if key not in expected:
            assert finding.verdict in OPEN, key
            continue
        other = expected[key]
        assert finding.verdict in {other.verdict, *OPEN}, key
        if finding.latency is None or other.latency is None:
            continue
        slack = other.latency.lo * ppm // 10**6
        assert finding.latency.lo <= other.latency.lo + slack, key
        assert finding.latency.hi is None or (
            other.latency.hi is not None and finding.latency.hi >= other.latency.hi - slack
        ), key


@given(
    st.sampled_from(sorted(SPOILT)), st.lists(st.floats(0.001, 0.999), min_size=1, max_size=3), st.randoms()
)
@LAW
def test_a_record_in_parts_says_what_it_says_in_one(name: str, cuts: list[float], random) -> None:  # type: ignore[no-untyped-def]
    """Cut at any frame, the files given in any order: the same to the nanosecond."""
    lines = tape(name).text().splitlines(keepends=True)
    rows = [0, *sorted({round(cut * len(lines)) for cut in cuts} - {0, len(lines)}), len(lines)]
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder, f"{row}.log") for row in rows[:-1]]
        for file, first, stop in zip(files, rows, rows[1:], strict=False):
            file.write_text("".join(lines[first:stop]))
        random.shuffle(files)
        split = replay(BENCH_FILE, BENCH, files)
    assert split.verdict is whole(name).verdict
    assert [(key, one.verdict, one.latency) for key, one in said(split).items()] == [
        (key, one.verdict, one.latency) for key, one in said(whole(name)).items()
    ]


@functools.cache
def bench_of(second: frozenset[str], clock: str) -> tuple[dict[str, str], Bench]:
    """The sample bench, those messages of which the second recorder writes: its files, and as loaded."""
    text = BENCH_FILE.read_text(encoding="utf-8")
    sources = f"  sources:\n    one: {{kind: can}}\n    two: {{kind: can, clock: {clock}}}\n  messages:\n"
    twin = "    SAFE_Twin: {source: two, period: 10 ms, longest_gap: 35 ms}\n" if clock == EDGE else ""
    text = text.replace("  messages:\n", sources + twin, 1)
    for name in MESSAGES.values():
        source = "two" if name in second else "one"
        for old, new in (
            (f"    {name}: {{", f"    {name}: {{source: {source}, "),
            (f"    {name}:\n", f"    {name}:\n      source: {source}\n"),
        ):
            text = text.replace(old, new, 1)
    dbc = BENCH_FILE.with_name("bench.dbc").read_text(encoding="utf-8")
    line = f'BO_ {TWIN} SAFE_Twin: 8 SAFE\n SG_ TwinEnable : 8|1@1+ (1,0) [0|1] "" LOG\n\nBO_ 513 '
    files = {"bench.yaml": text, "bench.dbc": dbc.replace("BO_ 513 ", line, 1)}
    with tempfile.TemporaryDirectory() as folder:
        written(folder, files)
        return files, load_bench(Path(folder, "bench.yaml"))


def written(folder: str, files: dict[str, str]) -> None:
    for name, content in files.items():
        Path(folder, name).write_text(content, encoding="utf-8")


def by_two(first: str, second: str, messages: set[str], clock: str) -> Judgement:
    """What the bench says whose messages are recorded by two: the texts of both logs, and what the second holds."""
    files, bench = bench_of(frozenset(messages), clock)
    with tempfile.TemporaryDirectory() as folder:
        written(folder, {**files, "one.log": first, "two.log": second})
        return replay(
            Path(folder, "bench.yaml"),
            bench,
            [Path(f"{name}={folder}/{name}.log") for name in ("one", "two")],
        )


def only(
    tape_: Tape, messages: set[str], *, twin: bool = False, ppm: float = 0.0, offset_s: float = 0.0
) -> str:
    """The frames of these messages, stamped by a clock of that kind; `twin`: and those that show the line too."""
    idents = {ident for ident, name in MESSAGES.items() if name in messages}
    kept = [
        row for row, ident in enumerate(tape_.ident.tolist()) if ident in idents or (twin and ident == SAFE)
    ]
    other = tape_.copy().take(kept)  # type: ignore[arg-type]
    shown = other.ident == SAFE
    if twin:
        other.us[shown] += 150
        other.take(other.us.argsort(kind="stable"))
    other.us = (other.us * (1 + ppm / 1e6) + offset_s * 1e6).round().astype(int)
    return other.text().replace(f" {SAFE:03X}#", f" {TWIN:03X}#") if twin else other.text()


@given(st.sampled_from(sorted(SPOILT)), parted)
@LAW
def test_messages_parted_over_two_recorders_with_one_clock_say_the_same(name: str, second: set[str]) -> None:
    """To the digits of the stamps, which now count for both; late stamps may be a cut where no message counts."""
    one, first = tape(name), set(MESSAGES.values()) - second
    split = by_two(only(one, first), only(one, second), second, ONE_CLOCK)
    never_better(split, whole(name))
    for key, finding in said(split).items() if name != "stamped late" else ():
        other = said(whole(name))[key]
        assert finding.verdict is other.verdict
        if finding.latency is not None and other.latency is not None and finding.latency.hi is not None:
            assert finding.latency.hi - (other.latency.hi or 0) <= 4
            assert other.latency.lo - finding.latency.lo <= 4


@given(st.sampled_from(sorted(SPOILT)), parted, st.floats(-80, 80), st.floats(-3, 3))
@LAW
def test_two_clocks_that_an_edge_brings_together_never_say_more(
    name: str, second: set[str], ppm: float, offset_s: float
) -> None:
    one, first = tape(name), set(MESSAGES.values()) - second
    two = only(one, second, twin=True, ppm=ppm, offset_s=offset_s)
    never_better(by_two(only(one, first), two, second, EDGE), whole(name), PPM)


@pytest.mark.parametrize("later", [False, True], ids=["the first", "the second"])
@pytest.mark.parametrize("at_s", [COVER.on - 0.5, COVER.start + 0.2], ids=["before the stop", "after it"])
def test_of_two_recorders_one_that_lost_a_piece_lets_nothing_pass_or_fail(at_s: float, later: bool) -> None:
    """Its ends joined, all that it recorded after is shown too early beside the other one's record."""
    one, second = tape("sound"), {"DRV_Actual", "LOD_Actual", "PSU_Bus"}
    first = set(MESSAGES.values()) - second
    lost = tape("sound").drop(None, at_s, at_s + 0.3072)
    lost.us[lost.us >= at_s * 1e6] -= 307_200
    texts = (only(one, first), only(lost, second)) if later else (only(lost, first), only(one, second))
    split = by_two(*texts, second, ONE_CLOCK)
    assert split.verdict is Verdict.INCONCLUSIVE
    of_stop = {finding.verdict for finding in said(split).values() if finding.function == "cover_stop"}
    assert Verdict.FAIL not in of_stop
    told = [one.sentence for one in split.findings if one.effect == "data_complete"]
    assert any("compares with those of the other sources is not known either" in one for one in told)


def test_the_laws_are_about_logs_that_pass_fail_and_leave_open() -> None:
    """Should fail, should pass: of what is spoilt each stop is judged as its name says."""
    verdicts = {name: {one.verdict for one in said(whole(name)).values()} for name in SPOILT}
    fails = {name for name, found in verdicts.items() if Verdict.FAIL in found}
    assert fails == {"slow unit", "references kept", "no reset", "torque within the stop"}
    assert Verdict.INCONCLUSIVE in verdicts["frames missing"] & verdicts["stamped late"]
    assert Verdict.INCONCLUSIVE not in verdicts["sound"]
    assert COVER.start < END_S
