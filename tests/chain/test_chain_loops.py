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
