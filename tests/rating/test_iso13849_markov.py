"""Table K.1 against Markov models solved with scipy: how far they differ, measured and held.

The table was itself computed by such models; what differs is rounding, except category 3 with low DC, where
the table is up to 26 % below this three-state model (its authors let detected faults and second
failures play out differently). The table is what the simplified procedure reports; the model never replaces it.
"""

from itertools import pairwise

import pytest
from rating_oracles import HOURS, channel_with_tester, two_channels

from interlock.rating.iso13849_table import COLUMNS

MODELS = {
    ("B", "none"): lambda years: 1 / (HOURS * years),
    ("1", "none"): lambda years: 1 / (HOURS * years),
    ("2", "low"): lambda years: channel_with_tester(years, 0.60),
    ("2", "medium"): lambda years: channel_with_tester(years, 0.90),
    ("3", "low"): lambda years: two_channels(years, 0.60),
    ("3", "medium"): lambda years: two_channels(years, 0.90),
    ("4", "high"): lambda years: two_channels(years, 0.99),
}

# measured: least and largest ratio model / table of each column, to three decimals
MEASURED = {
    ("B", "none"): (0.997, 1.004),
    ("1", "none"): (0.997, 1.004),
    ("2", "low"): (0.988, 1.018),
    ("2", "medium"): (0.962, 1.018),
    ("3", "low"): (0.999, 1.263),
    ("3", "medium"): (0.985, 1.045),
    ("4", "high"): (0.991, 1.016),
}


def ratios(column, low=0.0, high=float("inf")) -> list[float]:
    model = MODELS[column]
    return [model(cell.mttfd) / cell.pfhd for cell in COLUMNS[column] if low <= cell.mttfd <= high]


@pytest.mark.parametrize("column", list(COLUMNS))
def test_every_cell_within_the_measured_spread(column) -> None:
    least, most = MEASURED[column]
    found = ratios(column)
    assert least <= min(found) <= max(found) <= most


@pytest.mark.parametrize("column", [column for column in COLUMNS if column != ("3", "low")])
def test_every_other_column_within_five_per_cent(column) -> None:
    assert all(abs(ratio - 1) <= 0.05 for ratio in ratios(column))


def test_category_3_low_within_nine_per_cent_from_thirty_years_on() -> None:
    found = ratios(("3", "low"), low=30)
    assert 0.999 <= min(found) <= max(found) <= 1.095


def test_category_4_above_100_years_lies_just_below_the_model() -> None:
    """35 cells from memory alone: the model is 0.2 to 1.5 % above each, as smoothly as for a printed column."""
    found = ratios(("4", "high"), low=101)
    assert len(found) == 35
    assert 1.0015 <= min(found) <= max(found) <= 1.0155


@pytest.mark.parametrize("column", list(COLUMNS))
def test_neighbouring_cells_differ_from_the_model_alike(column) -> None:
    """A slipped row would show as a jump of the ratio; rounding to three digits allows 0.8 %, 6 % in 3 low."""
    found = ratios(column)
    jumps = [abs(after / before - 1) for before, after in pairwise(found)]
    assert max(jumps) <= (0.06 if column == ("3", "low") else 0.03)


@pytest.mark.parametrize(
    ("years", "slipped"), [(36, 7.11e-8), (39, 6.37e-8), (43, 5.76e-8), (47, 4.73e-8), (56, 4.22e-8)]
)
def test_cells_that_a_public_copy_slipped_are_optimistic(years, slipped) -> None:
    """That copy prints category 4 one or two rows too high; the model shows 8 to 21 % optimism."""
    assert 1.07 <= two_channels(years, 0.99) / slipped <= 1.21
    table = next(cell.pfhd for cell in COLUMNS["4", "high"] if cell.mttfd == years)
    assert abs(two_channels(years, 0.99) / table - 1) <= 0.01
