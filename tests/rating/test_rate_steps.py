"""Every printed step can be redone with a pocket calculator: formulas are evaluated and compared."""

import ast
import math

import pytest
from rating_benches import COVER_STOP, EXAMPLE_A, EXAMPLE_B, PROVEN, changed, facts

from interlock.rating.inputs import read_rating
from interlock.rating.measured_fall import MeasuredFall
from interlock.rating.rate import rate
from interlock.rating.rate_discharge import BusRequirement
from interlock.rating.step import Mark, Step

GUARD = {"distance_mm": 900.0, "approach_speed_mm_s": 1600.0, "intrusion_mm": 120.0, "opening_time_s": 0.1}
SIL_D = {"architecture": "D", "beta": 0.05, "proof_test_h": 8760.0, "diagnostic_test_h": 24.0}
FULL = changed(
    COVER_STOP,
    functions__cover_stop__guard=GUARD,
    functions__cover_stop__required_sil=2,
    functions__cover_stop__subsystems__input__iec62061=SIL_D,
    functions__cover_stop__subsystems__logic__iec62061={"sil": 3, "pfh_per_h": 4.9e-9},
    functions__cover_stop__subsystems__output__iec62061={
        "architecture": "B",
        "ccf": [
            "signal_cables_apart",
            "elements_apart",
            "different_technology",
            "failure_analysis",
            "training",
            "within_tested_environment",
            "emc_immunity",
        ],
        "proof_test_h": 8760.0,
    },
    parts__contactor_1__operations={"per_year": [5000.0, 7680.0]},
)


ELEMENT = {
    "devices": ["relay"],
    "lambda_du_per_h": 1e-6,
    "lambda_dd_per_h": 1.5e-6,
    "proof_test_h": 8760,
    "proof_test_coverage": 0.9,
    "lifetime_h": 175_200,
    "mttr_h": 8,
    "source": "data sheet",
}
COMMON = {"beta": 0.1, "beta_d": 0.05}
LOW = {
    "required_sil": 1,
    "demands_per_year": 1,
    "elements": {
        "one": {**ELEMENT, "architecture": "1oo1"},
        "both": {**ELEMENT, "architecture": "2oo2"},
        "either": {**ELEMENT, **COMMON, "architecture": "1oo2"},
        "voted": {**ELEMENT, **COMMON, "architecture": "2oo3"},
        "watched": {
            **ELEMENT,
            **COMMON,
            "architecture": "1oo2D",
            "lambda_sd_per_h": 1.5e-6,
            "switching": 0.98,
        },
    },
}
BUS = {
    "source": "data sheets",
    "highest_supply_v": 400,
    "capacitance_f": [0.0018, 0.0022],
    "bleeder_ohm": [900, 1000],
    "units": {"drive": {"emf_v_s_per_rad": 0.6, "source": "data sheet"}},
}
FULL = changed(FULL, low_demand={"cover_stop": LOW}, discharge=BUS)
CHAIN = facts(revealed={"relay.welds": True})


def steps_of(section) -> list[Step]:
    result = rate(
        read_rating(section),
        supported_categories=PROVEN,
        stop_time_upper_s=0.5,
        chain=CHAIN,
        bus=BusRequirement(1500, 400, by=("cover_stop",)),
        bus_fall=MeasuredFall((1.9, 2.1, 30, 400), (), "log"),
    )
    return [step for part in (*result.functions, *result.others) for step in part.steps]


FUNCTIONS = {"min": min, "max": max, "ln": math.log, "exp": math.exp}
ALL = [step for section in (FULL, EXAMPLE_A, EXAMPLE_B) for step in steps_of(section)]


def is_arithmetic(step: Step) -> bool:
    """True if the formula is an expression in the step's own names, and nothing else."""
    try:
        tree = ast.parse(step.formula, mode="eval")
    except SyntaxError:
        return False
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    return bool(step.numbers) and names <= {name for name, _ in step.numbers} | set(FUNCTIONS)


ARITHMETIC = [step for step in ALL if is_arithmetic(step)]


@pytest.mark.parametrize("step", ARITHMETIC, ids=lambda step: step.title)
def test_arithmetic_comes_out(step) -> None:
    value = eval(step.formula, {"__builtins__": {}, **FUNCTIONS}, dict(step.numbers))  # noqa: S307 - own text
    assert value == pytest.approx(step.result, rel=1e-9)


@pytest.mark.parametrize("step", ARITHMETIC, ids=lambda step: step.title)
def test_the_numbers_as_printed_are_enough(step) -> None:
    """With the six digits that are printed the result agrees to four."""
    value = eval(step.filled_in(), {"__builtins__": {}, **FUNCTIONS})  # noqa: S307 - own text
    assert value == pytest.approx(step.result, rel=1e-4)


def test_most_steps_are_arithmetic() -> None:
    assert len(ARITHMETIC) >= 75


@pytest.mark.parametrize(
    "title",
    [
        "switch_1: operations",
        "switch_1: MTTFd",
        "switch_1: T10d",
        "input channel 1: MTTFd",
        "input channel 1: MTTFd with the cap of category 3",
        "input: MTTFd of each channel, symmetrised",
        "input: average diagnostic coverage",
        "function: PFHd",
        "input: points against common cause, 65 needed",
        "output: points against common cause by IEC 62061",
        "one: PFDavg of 1oo1",
        "both: PFDavg of 2oo2",
        "either: PFDavg of 1oo2",
        "voted: PFDavg of 2oo3",
        "watched: PFDavg of 1oo2D",
        "watched: mean down time tGE",
        "one: share of its failures that the proof test finds",
        "one: proof-test interval with what the test misses",
        "function: PFDavg",
        "drive: back-EMF while the other unit turns it at top speed",
        "bus as stated: longest time until it is harmless",
        "bus as measured: longest time until it is harmless",
        "bus as measured: voltage left at the limit, by its own discharge alone",
        "switch_1: replace within",
        "input: PFH of architecture D",
        "output: PFH of architecture B",
        "function: PFH",
        "guard: longest stop without locking",
        "guard: least distance",
    ],
)
def test_these_steps_are_arithmetic(title) -> None:
    assert title in {step.title for step in ARITHMETIC}


@pytest.mark.parametrize(
    "title",
    [
        "required level",
        "switch_1: diagnostic coverage",
        "switch_1: B10d",
        "input: class of coverage",
        "input: PFHd of category 3",
        "input: level",
        "logic: level",
        "logic: PFHd",
        "function: performance level",
        "SW1B: fault exclusion",
    ],
)
def test_these_steps_are_there_too(title) -> None:
    assert title in {step.title for step in ALL}


def test_how_subsystems_were_combined_is_said() -> None:
    """With every PFHd known by the sum, with one unknown by Table 11."""
    unknown = changed(COVER_STOP, functions__cover_stop__subsystems__logic={"pl": "e", "source": "relay"})
    for section, words in (
        (COVER_STOP, "band of the sum, at most the lowest of e, e, e"),
        (unknown, "Table 11 with"),
    ):
        step = next(step for step in steps_of(section) if step.title == "function: performance level")
        assert step.filled_in().startswith(words)
    assert "function: PFHd" not in {step.title for step in steps_of(unknown)}


def test_every_step_has_a_source_and_a_mark() -> None:
    for step in ALL:
        assert step.source
        assert isinstance(step.mark, Mark)
        assert str(step).endswith("]")


def test_results_are_finite() -> None:
    assert all(math.isfinite(step.result) for step in ALL if isinstance(step.result, float))


def test_a_cell_from_memory_is_printed_as_such() -> None:
    """Row 62, category 3, medium: seen on another row only, so the row is from memory."""
    section = changed(
        COVER_STOP,
        parts__drive__mttfd_years=40.0,
        parts__contactor_1__operations={"per_year": 150_000.0},
        parts__contactor_1__replaced_every_years=8.0,
    )
    (cell,) = [step for step in steps_of(section) if step.title == "output: PFHd of category 3"]
    assert cell.formula.startswith("row 62 years")
    assert cell.mark is Mark.FROM_MEMORY
    assert "from memory" in str(cell)


def test_the_order_of_the_work_is_kept() -> None:
    """Parts, channel, cap, symmetrised, coverage, table: the cap comes before symmetrising."""
    titles = [step.title for step in steps_of(COVER_STOP) if step.title.startswith("output")]
    positions = [
        titles.index(title)
        for title in (
            "output channel 1: MTTFd",
            "output channel 1: MTTFd with the cap of category 3",
            "output channel 2: MTTFd with the cap of category 3",
            "output: MTTFd of each channel, symmetrised",
            "output: average diagnostic coverage",
            "output: PFHd of category 3",
            "output: level",
        )
    ]
    assert positions == sorted(positions)


def test_a_life_that_counts_at_its_other_end_for_the_coverage_is_told() -> None:
    """The better tested part weighs least at its longest life: 10 years in the channel, 40 in the average."""
    section = changed(
        COVER_STOP,
        parts__drive__mttfd_years=[10.0, 40.0],
        parts__drive__dc=0.99,
        parts__contactor_1__dc=0.9,
        parts__contactor_1__dc_measure="cross_monitoring_dynamic",
    )
    found = {step.title: step for step in steps_of(section)}
    title = "drive: MTTFd at the end of its range that makes the average coverage least"
    assert (found["drive: MTTFd"].result, found[title].result) == (10.0, 40.0)
    assert dict(found["output: average diagnostic coverage"].numbers)["M2"] == 40.0
    assert title not in {step.title for step in steps_of(COVER_STOP)}
