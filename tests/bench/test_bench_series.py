"""What a bench says of guards in series must fit its wiring and its cables; each mistake with line and column."""

from pathlib import Path

import pytest

from interlock.bench import parse_bench
from interlock.errors import BenchError

DOORS = (Path(__file__).parents[1] / "benches" / "shapes" / "three_doors.yaml").read_text("utf-8")
RELAY = "  k1: {kind: safety_relay, name: safety relay"
FULL = "cabling: star, protected: true, signals: pulsed, switching: identical"
CABLES = {
    "own": "  w1: {name: one, lines: [door_1.a, door_1.b]}\n  w2: {name: two, lines: [door_2.a, door_2.b]}\n"
    "  w3: {name: three, lines: [door_3.a, door_3.b]}\n",
    "common": "  w1: {name: trunk, lines: [door_1.a, door_2.a]}\n",
}


def bench(entries: str, *, at: str = RELAY, cables: str | None = None) -> str:
    text = DOORS.replace(at, f"{at}, series: {{{entries}}}")
    assert text != DOORS
    if cables is not None:
        text = text.replace("\nrequired:\n", f"\ncables:\n{CABLES[cables]}\nrequired:\n")
    return text


def refused(text: str) -> str:
    with pytest.raises(BenchError) as told:
        parse_bench("doors.yaml", text)
    return str(told.value)


@pytest.mark.parametrize(
    ("entries", "cables"),
    [
        ("people: one", None),
        ("people: several, open_together: in_normal_work", None),
        ("cabling: star", "own"),
        ("cabling: branch", "common"),
        ("cabling: loop", "common"),
        ("cabling: star", None),
        ("cabling: loop", None),
        (f"{FULL}, regular: {{coverage: low, source: own copy}}", None),
        ("", None),
    ],
)
def test_what_fits_is_read(entries: str, cables: str | None) -> None:
    assert parse_bench("doors.yaml", bench(entries, cables=cables)).devices["k1"].series is not None


@pytest.mark.parametrize(
    ("entries", "cables", "column", "why"),
    [
        ("cabling: star", "common", 66, "lines of several of these guards run in one cable"),
        ("cabling: branch", "own", 66, "each of these guards has a cable of its own"),
        ("cabling: loop", "own", 66, "each of these guards has a cable of its own"),
        ("cabling: ring", None, 66, "'ring' is none of the choices"),
        ("people: two", None, 65, "'two' is none of the choices"),
        ("cabeling: star", None, 57, "unknown key 'cabeling'"),
        ("regular: {coverage: low, source: x}", None, 57, "cabling, protected, signals, switching"),
        (
            "cabling: star, regular: {coverage: low, source: x}",
            None,
            72,
            "more: protected, signals, switching;",
        ),
        (f"{FULL}, regular: {{coverage: low}}", None, None, "missing entry 'source'"),
        (f"{FULL}, regular: {{coverage: good, source: x}}", None, None, "'good' is none of the choices"),
    ],
)
def test_nonsense_is_refused_where_it_stands(
    entries: str, cables: str | None, column: int | None, why: str
) -> None:
    told = refused(bench(entries, cables=cables))
    assert why in told
    assert f"doors.yaml:14:{'' if column is None else f'{column}: '}" in told


@pytest.mark.parametrize(
    ("at", "line", "device"),
    [
        ("  drive: {kind: drive_unit, name: drive motor", 15, "drive"),
        ("  reset: {kind: push_button, name: reset button", 13, "reset"),
        ("  door_1: {kind: guard_switch, name: first door", 9, "door_1"),
    ],
)
def test_a_layout_where_no_guards_are_in_series_is_refused_with_the_place_where_they_are(
    at: str, line: int, device: str
) -> None:
    told = refused(bench("people: one", at=at))
    assert (
        f"doors.yaml:{line}:{len(at) + 3}: series: no two guards are in series at the inputs of '{device}'"
        in told
    )
    assert "write it at k1, where guards are in series" in told


def test_a_bench_without_guards_in_series_may_say_nothing_of_their_layout() -> None:
    alone = bench("people: one")
    for channel in "ab":
        alone = alone.replace(
            f"door_1.{channel} and door_2.{channel} and door_3.{channel}", f"door_1.{channel}"
        )
    told = refused(alone)
    assert "series: no two guards are in series at the inputs of 'k1'; remove it" in told


def test_a_wiring_that_is_broken_itself_is_told_first() -> None:
    told = refused(
        bench("people: one", at="  drive: {kind: drive_unit, name: drive motor").replace(
            "door_2.a", "door_9.a"
        )
    )
    assert "door_9" in told
    assert "no two guards" not in told
