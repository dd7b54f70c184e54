"""Each cell of Table K.1, and how it is read: never more than the table promises."""

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iso13849 import column_class, performance_level, pfhd, pfhd_cell
from interlock.rating.iso13849_table import COLUMNS
from interlock.rating.step import Mark

DATA = Path(__file__).with_name("data") / "table_k1.csv"
CELLS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))
# A cell whose row or last digit is from memory says so; see data/README.md for the letters.
MARKS = {
    "c": Mark.COMPUTED,
    "s": Mark.PUBLISHED,
    "n": Mark.FROM_MEMORY,
    "x": Mark.FROM_MEMORY,
    "m": Mark.FROM_MEMORY,
}


@pytest.mark.parametrize("cell", CELLS, ids=lambda c: f"{c['category']}-{c['dc_class']}-{c['mttfd_years']}")
def test_cell(cell) -> None:
    years = float(cell["mttfd_years"])
    found = pfhd_cell(cell["category"], years, cell["dc_class"])
    assert found.pfhd == float(cell["pfhd_per_h"])
    assert found.mttfd == years
    assert found.mark is MARKS[cell["mark"][0]]
    assert performance_level(found.pfhd) == cell["pl"]


def test_no_cell_is_missing_or_added() -> None:
    assert len(CELLS) == sum(map(len, COLUMNS.values())) == 239


@pytest.mark.parametrize(
    "cell", [c for c in CELLS if c["category"] in ("B", "1")], ids=lambda c: c["mttfd_years"]
)
def test_single_channel_cells_are_the_inverse(cell) -> None:
    """Formula 1/(8760 · MTTFd), Table K.1; 0.4 % since the table truncates 3.805e-5 to 3.80e-5."""
    assert float(cell["pfhd_per_h"]) == pytest.approx(1 / (8760 * float(cell["mttfd_years"])), rel=0.004)


@pytest.mark.parametrize(
    ("category", "mttfd", "dc", "expected", "source"),
    [
        ("3", 48, "medium", 1.34e-7, "row 47, not 51"),
        ("4", 200, "high", 1.19e-8, "2015: up to 2500 years"),
        ("3", 200, "medium", 4.29e-8, "capped at 100 years"),
        ("4", 1692.7, "high", 1.42e-9, "row 1600; contactor used once in 15 minutes"),
        ("4", 9e9, "high", 9.06e-10, "capped at 2500 years"),
        ("1", 100, "none", 1.14e-6, "published worked sum"),
        ("3", 20.81, "low", 1.22e-6, "Annex I, example B: row 20"),
        ("B", 14.2857, "none", 8.78e-6, "Annex I, example A: row 13"),
        ("3", 69, "high", 7.68e-8, "high coverage in category 3 earns the column medium"),
        ("2", 30, "high", 1.21e-6, "high coverage in category 2 earns the column medium"),
        ("1", 40, "high", 2.93e-6, "tests earn nothing in category 1"),
        ("B", 500, "low", 4.23e-6, "category B has at most a medium MTTFd: row 27"),
    ],
)
def test_reading(category, mttfd, dc, expected, source) -> None:
    assert pfhd(category, mttfd, dc) == expected, source


def test_keyword_arguments() -> None:
    assert pfhd(category=3, mttfd=100, dc_class="medium") == pfhd("3", 100.0, "medium")


COLUMN = st.sampled_from(
    [("B", "none"), ("1", "none"), ("2", "low"), ("3", "low"), ("3", "medium"), ("4", "high")]
)


@given(COLUMN, st.floats(30, 1e5), st.floats(1, 100))
def test_a_longer_mttfd_never_worsens_the_rate(column, years, factor) -> None:
    category, dc = column
    assert pfhd(category, years * factor, dc) <= pfhd(category, years, dc)


@given(COLUMN, st.floats(30, 2500))
def test_the_reading_is_never_below_the_next_row(column, years) -> None:
    """The true curve falls: the value at or below the MTTFd is at least that of any MTTFd in between."""
    category, dc = column
    cell = pfhd_cell(category, years, dc)
    assert cell.mttfd <= years
    above = [row.pfhd for row in COLUMNS[column] if row.mttfd > cell.mttfd]
    assert not above or cell.pfhd > above[0]


@given(st.sampled_from(["2", "3"]), st.floats(3, 200))
def test_better_coverage_never_worsens_the_rate(category, years) -> None:
    assert pfhd(category, years, "low") > pfhd(category, years, "medium") >= pfhd(category, years, "high")


@given(st.floats(30, 200))
def test_more_structure_never_worsens_the_rate(years) -> None:
    rates = [
        pfhd("1", years, "none"),
        pfhd("2", years, "medium"),
        pfhd("3", years, "high"),
        pfhd("4", years, "high"),
    ]
    assert rates == sorted(rates, reverse=True)


@pytest.mark.parametrize("column", list(COLUMNS))
def test_columns_fall(column) -> None:
    rates = [cell.pfhd for cell in COLUMNS[column]]
    years = [cell.mttfd for cell in COLUMNS[column]]
    assert rates == sorted(rates, reverse=True)
    assert years == sorted(set(years))


@pytest.mark.parametrize(
    ("category", "mttfd", "dc", "says"),
    [
        ("4", 100, "low", "needs an average diagnostic coverage of at least 'high'"),
        ("4", 100, "medium", "at least 'high'"),
        ("3", 100, "none", "at least 'low'"),
        ("2", 100, "none", "at least 'low'"),
        ("4", 29.99, "high", "needs at least 30 years"),
        ("1", 29.99, "none", "needs at least 30 years"),
        ("3", 2.99, "low", "needs at least 3 years"),
        ("5", 100, "high", "one of B, 1, 2, 3, 4"),
        (None, 100, "high", "one of B, 1, 2, 3, 4"),
        ("3", 100, "High", "one of none, low, medium, high"),
        ("3", 100, 0.99, "one of none, low, medium, high"),
        ("3", 0, "low", "years"),
        ("3", -20, "low", "years"),
        ("3", math.nan, "low", "years"),
        ("3", math.inf, "low", "years"),
        ("3", "20", "low", "years"),
    ],
)
def test_refused(category, mttfd, dc, says) -> None:
    with pytest.raises(RatingError, match=says):
        pfhd(category, mttfd, dc)


def test_annex_i_example_a_is_no_category_1() -> None:
    """AS 4024.1503, I.3.2: with 14.3 years only category B is reached, PL b."""
    with pytest.raises(RatingError, match="category 1 needs at least 30 years"):
        pfhd("1", 14.3, "none")
    assert performance_level(pfhd("B", 14.3, "none")) == "b"


@pytest.mark.parametrize("category", ["B", "1", "2", "3", "4"])
def test_the_column_never_promises_more_than_the_coverage(category) -> None:
    order = ("none", "low", "medium", "high")
    for given_ in order:
        try:
            column = column_class(category, given_)
        except RatingError:
            continue
        assert order.index(column) <= order.index(given_)


def test_a_system_rate_is_not_a_channel_life() -> None:
    """A forum derives a channel MTTFd of 1196.6 years from 9.54e-8; the cell has 30 years a channel."""
    assert pfhd("4", 30, "high") == 9.54e-8
    assert pytest.approx(1196.6, rel=1e-4) == 1 / (9.54e-8 * 8760)
