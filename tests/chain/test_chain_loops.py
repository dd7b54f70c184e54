"""What never comes to rest is refused where it is to be mended: in the wiring, or in the kind of a device."""

from pathlib import Path

import pytest
from chain_shapes import SHAPES

from interlock.bench import parse_bench
from interlock.chain import check
from interlock.errors import BenchError


def refused(tmp_path: Path, *changes: tuple[str, str]) -> list[str]:
    text = (SHAPES / "start_stop_station.yaml").read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    file = tmp_path / "b.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BenchError) as raised:
        check(parse_bench(str(file), text), file=file)
    return str(raised.value).replace(f"{tmp_path}/", "").splitlines()


RELAYS = (
    "  q1: {",
    "  k1: {kind: plain_relay, name: first relay}\n  k2: {kind: plain_relay, name: second relay}\n  q1: {",
)


def test_a_relay_that_switches_itself_off_is_a_loop_of_its_wiring(tmp_path: Path) -> None:
    [said] = refused(
        tmp_path, RELAYS, ("wiring:\n", "wiring:\n  k1.coil: not k1.out_a\n  k2.coil: k1.out_b\n")
    )[:1]
    assert "'k1.coil': first relay" in said or "'k1.coil': first relay, second relay" in said
    assert said.endswith(
        "a wiring loop without a delay; break the loop, or put a device with a delay into it"
    )


def test_two_relays_that_switch_each_other_are_told_at_both_coils(tmp_path: Path) -> None:
    said = refused(tmp_path, RELAYS, ("wiring:\n", "wiring:\n  k1.coil: not k2.out_a\n  k2.coil: k1.out_b\n"))
    assert [one.split(": ")[1] for one in said] == ["'k1.coil'", "'k2.coil'"]
    for one in said:
        assert "first relay, second relay keep changing each other at once and for ever" in one


def test_a_single_relay_is_told_in_the_singular(tmp_path: Path) -> None:
    one_relay = ("  q1: {", "  k1: {kind: plain_relay, name: first relay}\n  q1: {")
    [said] = refused(tmp_path, one_relay, ("wiring:\n", "wiring:\n  k1.coil: not k1.out_a\n"))
    assert "first relay keeps changing itself at once and for ever: a wiring loop" in said


def test_a_kind_that_leads_to_and_fro_is_told_at_its_transitions(tmp_path: Path) -> None:
    """Its inputs stay the same and it reads none of its own outputs: no wiring is to blame."""
    flips = ("      - {when: not feed, from: fed, to: still}", "      - {when: feed, from: fed, to: still}")
    [said] = refused(tmp_path, flips)
    place = (SHAPES / "start_stop_station.yaml").read_text("utf-8").splitlines().index("    transitions:") + 1
    assert said == (
        f"b.yaml:{place}:5: kind 'line_fed_motor': grinder motor goes from state to state at once and for ever, while "
        "its inputs stay the same; give its transitions such conditions that no two of them lead to and fro"
    )


THREE = (
    "  q1: {",
    "  k1: {kind: plain_relay, name: first relay}\n  k2: {kind: plain_relay, name: second relay}\n"
    "  k3: {kind: plain_relay, name: third relay}\n  q1: {",
)


@pytest.mark.parametrize(
    ("k1", "k2", "k3", "told"),
    [
        ("not k2.out_a", "k1.out_a", "k2.out_a", {"k1": "first, second", "k2": "first, second"}),
        ("not k1.out_a", "k1.out_a", "k2.out_a", {"k1": "first"}),
        (
            "not k2.out_a",
            "k1.out_a",
            "not k3.out_a",
            {"k1": "first, second", "k2": "first, second", "k3": "third"},
        ),
        (
            "not k3.out_a",
            "k1.out_a",
            "k2.out_a",
            dict.fromkeys(["k1", "k2", "k3"], "first, second, third"),
        ),
    ],
    ids=["one follows a ring", "two follow one", "two rings", "one ring"],
)
def test_what_only_follows_a_loop_is_not_told_and_each_loop_is_told_apart(
    tmp_path: Path, k1: str, k2: str, k3: str, told: dict[str, str]
) -> None:
    wiring = ("wiring:\n", f"wiring:\n  k1.coil: {k1}\n  k2.coil: {k2}\n  k3.coil: {k3}\n")
    said = refused(tmp_path, THREE, wiring)
    places = [one.split(": ")[1].strip("'").removesuffix(".coil") for one in said]
    assert sorted(places) == sorted(told)
    for place, line in zip(places, said, strict=True):
        assert line.split(": ")[2].split(" keep")[0].replace(" relay", "") == told[place]


def test_a_contactor_s_coil_that_follows_a_restless_relay_is_not_told(tmp_path: Path) -> None:
    """The line that the engineer must change is the one of the relay, not the six behind it."""
    behind = ("  q1.coil: hood.a and", "  q1.coil: k1.out_b and hood.a and")
    one_relay = ("  q1: {", "  k1: {kind: plain_relay, name: first relay}\n  q1: {")
    said = refused(tmp_path, one_relay, ("wiring:\n", "wiring:\n  k1.coil: not k1.out_a\n"), behind)
    assert [one.split(": ")[1] for one in said] == ["'k1.coil'"]
