"""What the demo's log tells beside its verdicts, against the simulated plant itself: friction, bleeder and windings.

The judge never sees these figures. Oracles are closed forms: t = (J/b) ln((Tc + b w0)/(Tc + b w1)) for the shaft,
R C ln(V0/V1) and V exp(-t/RC) for the bus, and the plant's own winding at the instants of the samples.
"""

import functools
from dataclasses import replace
from math import exp, log, tau
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from interlock.bench import load_bench
from interlock.cli.replay_page import show
from interlock.demo import BENCH_FILE
from interlock.demo.cell import cell
from interlock.replay import Judgement, document, judge_trace, replay
from interlock.replay.coasting import coast_downs
from interlock.replay.discharging import discharges
from interlock.replay.temperatures import temperatures
from interlock.twin import Run, proof_test, run, write
from interlock.twin.nets import Reading
from interlock.verdict import Verdict

S = 10**9
RPM = tau / 60
SPEED = "AxisMotion.PrimeSpeed"
TOP, STILL = 3000 * RPM, 10 * RPM


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Run, Judgement]:
    """A proof test of the simulated bench in good order, and what is judged of its log."""
    found = run(cell(), proof_test(), np.random.default_rng(11))
    path = tmp_path_factory.mktemp("told") / "run.log"
    write(found.log, 1_800_000_000, path)
    return found, replay(BENCH_FILE, load_bench(BENCH_FILE), [path])


@functools.cache
def shaft_seconds(high: float, low: float) -> float:
    """The simulated shaft from one speed to a lower one, rad/s: both units' friction and inertia together."""
    bench = cell()
    inertia = bench.drive.inertia_kgm2 + bench.load.inertia_kgm2
    dry = bench.drive.coulomb_nm + bench.load.coulomb_nm
    wet = bench.drive.viscous_nms + bench.load.viscous_nms
    return inertia / wet * log((dry + wet * high) / (dry + wet * low))


def test_every_stop_has_its_prediction_and_it_holds_the_plants_own_time(made) -> None:
    """Stamps up to 3 ms late, steps of 0.2 1/min, noise within 1.5: every one of them was a good stop."""
    found = coast_downs(made[1])
    assert len(found) == 5
    truth = shaft_seconds(TOP, STILL)
    for one in found:
        assert one.taken is not None, one.sentence
        assert one.taken.lo / S <= truth + one.before.hi / S
        assert truth + one.before.lo / S <= one.taken.hi / S
        assert one.taken.hi - one.taken.lo < 0.06 * S
        assert one.holds is True


def test_its_friction_is_the_plants(made) -> None:
    """2.4 N m and 0.003 N m s/rad: both units' bearings added."""
    for one in coast_downs(made[1]):
        assert one.coulomb.value == pytest.approx(2.4, rel=0.01)
        assert one.viscous.value == pytest.approx(0.003, rel=0.05)


def test_the_bus_falls_by_its_bleeder(made) -> None:
    supply = cell().supply
    constant = supply.bleeder_ohm * supply.capacitance_f
    (one,) = discharges(made[1])
    value, low, high = one.time_constant_s
    assert low <= constant <= high
    assert value == pytest.approx(constant, rel=0.005)
    assert (
        one.highest_v == 352.0
    )  # the supply's highest, above the rated 320 V and the brake's 53 V of back-EMF
    truth = constant * log(352.0 / 60.0)
    assert one.taken.lo / S <= truth <= one.taken.hi / S
    assert one.remaining_v[0] <= 352.0 * exp(-5 / constant) <= one.remaining_v[1]


@pytest.mark.parametrize(
    ("place", "reading"), [(0, Reading.HEAT_DRIVE), (1, Reading.HEAT_LOAD)], ids=["prime", "brake"]
)
def test_the_highest_temperature_is_the_plants(made, place: int, reading: Reading) -> None:
    """Within the noise of the sensor and a tenth of a degree of resolution; the winding warms up all the time."""
    simulated, judgement = made
    found = temperatures(judgement)[place]
    at_s = np.arange(0, judgement.observation.trace.end_ns / 1e9, 0.05)
    truth = simulated.sensors.read(reading, at_s)
    assert found.run.highest == pytest.approx(truth.max(), abs=0.6)
    assert abs(found.run.highest - truth.max()) < found.uncertain
    assert not found.run.at_least
    highs = [one.highest for one in found.stops]
    assert highs == sorted(highs)


def test_the_permitted_temperature_is_said_not_to_be_reached(made) -> None:
    prime, brake = temperatures(made[1])
    assert (prime.limit, prime.reached) == (140.0, False)
    assert (brake.limit, brake.reached) == (None, None)


def test_a_stop_after_which_something_rubs_is_refused(made) -> None:
    """Should fail: the same log, its speeds taken down by a brake that closes half way, far beyond what is stated."""
    judgement = made[1]
    seen = judgement.observation
    samples = seen.trace.signals[SPEED]
    values = samples.values.copy()
    stop = next(one for one in judgement.stops if one.demand is not None)
    since = (samples.times_ns - stop.demand.lo) / 1e9
    late = (since > 1.5) & (since < 4.5)
    values[late] = np.maximum(0.0, values[late] - 150.0 * (since[late] - 1.5))
    trace = replace(seen.trace, signals={**seen.trace.signals, SPEED: replace(samples, values=values)})
    first = coast_downs(judge_trace(seen.bench, trace))[0]
    assert first.taken is None
    assert "do not explain the record" in first.sentence
    assert "departs from them by" in first.sentence


def printed(judgement: Judgement) -> str:
    console = Console(width=100, record=True, file=None, quiet=False)
    with console.capture() as caught:
        show(console, judgement, "0" * 64, every=False)
    return caught.get()


def test_the_page_holds_each_of_them_once_and_in_order(made) -> None:
    text = printed(made[1])
    titles = (
        "Repeated stops",
        "From maximum speed",
        "Discharge of the DC bus",
        "Highest temperatures",
        "Decision rule",
    )
    places = [text.index(title) for title in titles]
    assert places == sorted(places)
    assert all(text.count(title) == 1 for title in titles)
    assert text.index("Verdict: pass") > places[-1]


def test_the_table_of_decisions_has_a_row_for_each_kind_of_time(made) -> None:
    rows: list[dict[str, Any]] = document(made[1], "0" * 64)["decisions"]
    kinds = [(one["what"], one["subject"]) for one in rows]
    assert len(kinds) == len(set(kinds))
    assert kinds[-2:] == [
        ("standstill_from_maximum_speed", "shaft"),
        ("discharge_from_highest_voltage", "link"),
    ]
    assert {one["decided_by"] for one in rows} == {"whole interval"}
    assert all(one["accepted"] == {"simple acceptance": True, "guard band": True} for one in rows)
    assert all(0 <= one["false_acceptance"] < 1e-9 for one in rows)
    assert made[1].verdict is Verdict.PASS
