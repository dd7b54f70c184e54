"""Discharges on a log, fitted: the time constant of the sample logs' own truth, and logs that show too little."""

import gzip
import json
import re
from collections.abc import Callable, Iterator
from math import log
from pathlib import Path

import pytest

from interlock.bench import load_bench
from interlock.evidence.bus_fall import measured_fall
from interlock.rating.measured_fall import MeasuredFall
from interlock.replay import replay

ROOT = Path(__file__).parents[2]
BENCH = ROOT / "tests/benches/sample/bench.yaml"
SAMPLES = ROOT / "tests/data/samples"
TRUTH = json.loads((SAMPLES / "refs_kept.truth.json").read_text(encoding="utf-8"))
(EMERGENCY_S,) = (one["demand_s"] for one in TRUTH["demands"] if one["what"] == "emergency")
BUS = "PSU_Bus"

Frame = tuple[float, str]  # seconds since the first frame, and the line
Change = Callable[[list[Frame]], Iterator[str]]


@pytest.fixture(scope="module")
def frames() -> list[Frame]:
    """The lines of a sample log around its emergency stop, with their times."""
    lines = gzip.decompress((SAMPLES / "refs_kept.log.gz").read_bytes()).decode().splitlines()
    times = [float(line[1 : line.index(")")]) for line in lines]
    return [(at - times[0], line) for at, line in zip(times, lines, strict=True)]


@pytest.fixture
def fall(frames, tmp_path) -> Callable[[Change], MeasuredFall | None]:
    """What is measured on the log after a change of its lines."""

    def measure(change: Change) -> MeasuredFall | None:
        path = tmp_path / "run.log"
        path.write_text("\n".join(change(frames)) + "\n", encoding="utf-8")
        return measured_fall(replay(BENCH, load_bench(BENCH), [path]))

    return measure


def is_bus(line: str) -> bool:
    number = re.search(rf"BO_ (\d+) {BUS}:", (BENCH.with_name("bench.dbc")).read_text(encoding="utf-8"))
    assert number is not None
    return f" {int(number[1]):03X}#" in line


def between(frames: list[Frame], start: float, end: float) -> Iterator[str]:
    return (line for at, line in frames if start <= at <= end)


def test_the_band_holds_the_true_time_constant(fall) -> None:
    """`bus_tau_s` of the sample's truth file, made by a generator that shares nothing with this package."""
    found = fall(lambda frames: between(frames, EMERGENCY_S - 4, EMERGENCY_S + 8))
    assert found is not None
    assert found.unknown == ""
    assert found.fitted is not None
    shortest, longest, lowest, highest = found.fitted
    assert shortest <= TRUTH["bus_tau_s"] <= longest
    assert longest / shortest < 1.02
    assert lowest < 60
    assert 90 < highest <= TRUTH["bus_v"]


def test_what_was_seen_holds_the_true_time(fall) -> None:
    """tau ln(V/60) from the truth."""
    found = fall(lambda frames: between(frames, EMERGENCY_S - 4, EMERGENCY_S + 8))
    assert found is not None
    (seen,) = found.seen
    assert seen.latest_s is not None
    true_s = TRUTH["bus_tau_s"] * log(TRUTH["bus_v"] / 60)
    assert seen.soonest_s - 0.01 <= true_s <= seen.latest_s + 0.01
    assert seen.from_v <= TRUTH["bus_v"]


def test_a_log_without_an_emergency_stop_shows_no_discharge(fall) -> None:
    assert fall(lambda frames: between(frames, EMERGENCY_S - 12, EMERGENCY_S - 1)) is None


@pytest.mark.parametrize("after_s", [0.1, 0.3])
def test_a_log_that_ends_before_the_bus_is_harmless_tells_nothing(fall, after_s) -> None:
    found = fall(lambda frames: between(frames, EMERGENCY_S - 4, EMERGENCY_S + after_s))
    assert found is not None
    assert (found.fitted, [one.latest_s for one in found.seen]) == (None, [None])
    assert "not seen to become harmless for good" in found.unknown
    assert found.seen[0].soonest_s <= after_s


def test_a_hole_in_the_voltage_tells_nothing(fall) -> None:
    def holed(frames: list[Frame]) -> Iterator[str]:
        for at, line in frames:
            hidden = is_bus(line) and EMERGENCY_S + 0.2 < at < EMERGENCY_S + 0.5
            if EMERGENCY_S - 4 <= at <= EMERGENCY_S + 8 and not hidden:
                yield line

    found = fall(holed)
    assert found is not None
    assert (found.fitted, found.seen) == (None, ())
    assert "evidence of the voltage is missing" in found.unknown


def test_a_bus_that_hangs_for_a_while_is_no_exponential(fall) -> None:
    """As if a unit fed it: half a second later than it should, at one voltage in between."""

    def hanging(frames: list[Frame]) -> Iterator[str]:
        kept = [one for one in frames if EMERGENCY_S - 4 <= one[0] <= EMERGENCY_S + 8]
        stop = EMERGENCY_S + 0.25
        bus = [(at, line.partition("#")[2]) for at, line in kept if is_bus(line)]
        held = next(data for at, data in bus if at >= stop)
        for at, line in kept:
            if not is_bus(line) or at < stop:
                yield line
                continue
            data = (
                held
                if at < stop + 0.5
                else max((one for one in bus if one[0] <= at - 0.5), default=(0.0, held))[1]
            )
            yield f"{line.partition('#')[0]}#{data}"

    found = fall(hanging)
    assert found is not None
    assert found.fitted is None
    assert found.unknown


def test_a_bus_that_keeps_its_voltage_was_seen_live_all_the_time(fall) -> None:
    """The last voltage before the opening, for ever: live for as long as the log goes on."""

    def kept(frames: list[Frame]) -> Iterator[str]:
        chosen = [one for one in frames if EMERGENCY_S - 4 <= one[0] <= EMERGENCY_S + 8]
        held = [line.partition("#")[2] for at, line in chosen if is_bus(line) and at < EMERGENCY_S][-20:]
        for number, (at, line) in enumerate(chosen):
            late = is_bus(line) and at >= EMERGENCY_S
            yield f"{line.partition('#')[0]}#{held[number % len(held)]}" if late else line

    found = fall(kept)
    assert found is not None
    assert found.fitted is None
    (seen,) = found.seen
    assert seen.latest_s is None
    assert seen.soonest_s > 3
