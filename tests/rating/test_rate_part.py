"""One part at a time: figures, both ends of its ranges, and the steps that lead there."""

import pytest
from rating_benches import COVER_STOP, changed, switch

from interlock.errors import RatingError
from interlock.rating.ends import Ends
from interlock.rating.inputs import read_rating
from interlock.rating.inputs_part import Part
from interlock.rating.rate_part import PartFigures, part_figures
from interlock.rating.step import Mark, Trail

WORSE, BETTER = Ends(pessimistic=True), Ends(pessimistic=False)


def part(**entry) -> Part:
    return read_rating(changed(COVER_STOP, parts__switch_1=entry)).parts["switch_1"]


def figures(entry, ends=WORSE, edition=2015) -> tuple[PartFigures | None, Trail]:
    trail = Trail()
    return part_figures("K1", part(**entry), edition, ends, trail), trail


def test_a_wearing_part() -> None:
    """Contactor B10d 1.3e6 at 7680 a year: 1692.7 and 169.3 years (computed)."""
    found, trail = figures(switch(b10d=1.3e6))
    assert found == PartFigures(
        "K1",
        pytest.approx(1692.7, rel=1e-4),
        pytest.approx(1692.7, rel=1e-4),
        0.99,
        pytest.approx(169.27, rel=1e-4),
    )
    titles = [step.title for step in trail.steps]
    assert titles == ["K1: diagnostic coverage", "K1: B10d", "K1: operations", "K1: MTTFd", "K1: T10d"]


def test_both_ends_of_the_ranges() -> None:
    entry = switch(b10d=[1e6, 2e6], operations={"per_year": [1000.0, 4000.0]}, dc=[0.6, 0.9])
    worse, _ = figures(entry)
    better, _ = figures(entry, BETTER)
    assert worse == PartFigures("K1", 2500, 20_000, 0.6, 250)
    assert better == PartFigures("K1", 20_000, 2500, 0.9, 2000)


def test_a_held_input_has_one_end() -> None:
    entry = switch(b10d=[1e6, 2e6], operations={"per_year": [1000.0, 4000.0]})
    found, _ = figures(entry, Ends(pessimistic=True, fixed={"K1.b10d": 2e6, "K1.operations": 1000.0}))
    assert found is not None
    assert found.mttfd == found.mttfd_other == 20_000


def test_a_stated_mttfd() -> None:
    found, trail = figures({"source": "maker", "mttfd_years": [100.0, 150.0]})
    assert found == PartFigures("K1", 100, 150, 0.0, None)
    assert trail.steps[0].source == "maker"
    assert trail.steps[0].mark is Mark.GIVEN


def test_typical_values_carry_table_and_mark() -> None:
    entry = {"source": "none", "typical": "contactor_nominal_load", "operations": {"per_year": 7680.0}}
    found, trail = figures(entry)
    assert found is not None
    assert found.mttfd == pytest.approx(1692.7, rel=1e-4)
    assert trail.steps[0].source == "ISO 13849-1:2015, Table C.1"
    assert trail.steps[0].mark is Mark.FROM_MEMORY
    found, trail = figures({"source": "none", "typical": "mechanical"})
    assert found == PartFigures("K1", 150, 150, 0.0, None)
    assert trail.steps[0].mark is Mark.PUBLISHED


def test_a_fault_exclusion_has_no_figures_but_its_reason() -> None:
    found, trail = figures({"source": "fault list 3", "fault_exclusion": "direct opening"})
    assert found is None
    assert (trail.steps[0].formula, trail.steps[0].source) == ("direct opening", "fault list 3")


def test_names_of_the_inputs() -> None:
    ends = Ends(pessimistic=True)
    figures(switch(operations={"per_year": 5.0}), ends)
    assert set(ends.seen) == {"K1.b10d", "K1.operations", "K1.dc"}


def test_operations_by_time_are_exact() -> None:
    ends = Ends(pessimistic=True)
    _, trail = figures(switch(), ends)
    assert "K1.operations" not in ends.seen
    step = next(step for step in trail.steps if step.title == "K1: operations")
    assert dict(step.numbers) == {"dop": 240, "hop": 8, "tcycle": 900}


def test_source_of_the_operations() -> None:
    _, trail = figures(switch(operations={"per_year": 5.0, "source": "register, 2025"}))
    assert next(step.source for step in trail.steps if step.title == "K1: operations") == "register, 2025"


def test_a_source_of_coverage_is_shown() -> None:
    entry = switch(dc_source="analysis 12")
    del entry["dc_measure"]
    _, trail = figures(entry)
    assert trail.steps[0].source == "analysis 12"


def test_edition_of_the_steps() -> None:
    _, trail = figures(switch(), edition=2023)
    assert next(step.source for step in trail.steps if step.title == "K1: MTTFd").startswith(
        "ISO 13849-1:2023"
    )


def test_a_part_without_operations_is_never_computed() -> None:
    bare = Part.model_construct(**{**part(**switch()).__dict__, "operations": None})
    with pytest.raises(RatingError, match="operations of K1 is missing"):
        part_figures("K1", bare, 2015, WORSE, Trail())
