"""Every printed step can be redone with a pocket calculator: formulas are evaluated and compared."""

import ast
import math

import pytest
from rating_benches import COVER_STOP, EXAMPLE_A, EXAMPLE_B, PROVEN, changed

from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
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
        "beta": 0.05,
        "proof_test_h": 8760.0,
    },
    parts__contactor_1__operations={"per_year": [5000.0, 7680.0]},
)


def steps_of(section) -> list[Step]:
    result = rate(read_rating(section), supported_categories=PROVEN, stop_time_upper_s=0.5)
    return [step for function in result.functions for step in function.steps]


ALL = [step for section in (FULL, EXAMPLE_A, EXAMPLE_B) for step in steps_of(section)]


def is_arithmetic(step: Step) -> bool:
    """True if the formula is an expression in the step's own names, and nothing else."""
    try:
        tree = ast.parse(step.formula, mode="eval")
    except SyntaxError:
        return False
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    return bool(step.numbers) and names <= {name for name, _ in step.numbers} | {"min", "max"}


ARITHMETIC = [step for step in ALL if is_arithmetic(step)]


@pytest.mark.parametrize("step", ARITHMETIC, ids=lambda step: step.title)
def test_arithmetic_comes_out(step) -> None:
    value = eval(step.formula, {"__builtins__": {}, "min": min, "max": max}, dict(step.numbers))  # noqa: S307 - own text
    assert value == pytest.approx(step.result, rel=1e-9)


@pytest.mark.parametrize("step", ARITHMETIC, ids=lambda step: step.title)
def test_the_numbers_as_printed_are_enough(step) -> None:
    """With the six digits that are printed the result agrees to four."""
    value = eval(step.filled_in(), {"__builtins__": {}, "min": min, "max": max})  # noqa: S307 - own text
    assert value == pytest.approx(step.result, rel=1e-4)


def test_most_steps_are_arithmetic() -> None:
    assert len(ARITHMETIC) >= 40


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
        "input: measures against common cause",
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
