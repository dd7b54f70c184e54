"""MTTFd of parts and channels against the worked examples that the standard prints."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iso13849 import (
    category_name,
    mttfd_cap,
    mttfd_capped,
    mttfd_class,
    mttfd_from_b10d,
    mttfd_series,
    mttfd_symmetrised,
    operations_per_year,
    t10d,
)

# Source of all: AS 4024.1503 (adopts ISO 13849-1:2006), the clause beside each; 0.5 % unless the text truncates.
C_4_3_USE = (220, 16, 5)  # d/a, h/d, s: 2.53e6 cycles a year


def test_c_4_3_operations() -> None:
    """C.4.3 prints 2.53e6; 220 · 16 · 3600 / 5 = 2.5344e6 by pocket calculator."""
    assert operations_per_year(*C_4_3_USE) == pytest.approx(2.5344e6)


def test_c_4_3_valve() -> None:
    """C.4.3: B10d 60e6 gives T10d 23.7 years and MTTFd 237 years."""
    use = operations_per_year(days_per_year=220, hours_per_day=16, cycle_time_s=5)
    assert t10d(b10d=60e6, operations_per_year=use) == pytest.approx(23.7, rel=0.005)
    assert mttfd_from_b10d(b10d=60e6, operations_per_year=use) == pytest.approx(237, rel=0.005)


@pytest.mark.parametrize(
    ("use", "operations", "b10d", "mttfd", "life"),
    [
        # computed by pocket calculator from formulas C.1 to C.3
        ((240, 8, 900), 7680, 1.3e6, 1692.7, 169.27),  # contactor, once in 15 minutes
        ((240, 8, 900), 7680, 1e5, 130.2, 13.02),  # button: T10d below 20 years
        ((240, 8, 900), 7680, 2e6, 2604.2, 260.42),  # position switch with separate actuator
        ((365.25, 24, 20), 1_577_880, 2e7, 126.75, 12.675),  # a maker's manual works with 365.25 d
        ((220, 8, 10), 633_600, 2e7, 315.66, 31.566),  # Table D.1, note 2: relay
        ((220, 8, 10), 633_600, 2e6, 31.57, 3.157),  # Table D.1: contactor of the 2006 edition
    ],
)
def test_wearing_parts(use, operations, b10d, mttfd, life) -> None:
    assert operations_per_year(*use) == pytest.approx(operations)
    assert mttfd_from_b10d(b10d, operations) == pytest.approx(mttfd, rel=0.0005)
    assert t10d(b10d, operations) == pytest.approx(life, rel=0.0005)


def test_failure_rate_of_a_maker_manual() -> None:
    """A maker's manual: B10d 250 000 at 5280 cycles a year is 241.1 FIT by 0.1 · nop / B10d."""
    per_hour = 1 / (mttfd_from_b10d(250_000, 5280) * 8760)
    assert per_hour * 1e9 == pytest.approx(241.1, rel=0.0005)


@given(st.floats(1e3, 1e8), st.floats(1, 1e7))
def test_t10d_is_a_tenth_of_mttfd(b10d: float, use: float) -> None:
    assert t10d(b10d, use) == pytest.approx(mttfd_from_b10d(b10d, use) / 10)


# Table D.1: parts of a circuit board, n_j and MTTFd,j
BOARD = [1142] * 2 + [22831] * 5 + [11416] * 4 + [315.66] * 4 + [31.57]


def test_table_d_1() -> None:
    """Table D.1 prints 21.43 years, 'medium'."""
    assert mttfd_series(BOARD) == pytest.approx(21.43, abs=0.005)
    assert mttfd_class(mttfd_series(BOARD)) == "medium"


def test_table_d_1_with_the_contactor_of_2015() -> None:
    """B10d 1.3e6 (2015, from memory) instead of 2e6 in the same board: 15.69 years (computed)."""
    assert mttfd_series([*BOARD[:-1], mttfd_from_b10d(1.3e6, 633_600)]) == pytest.approx(15.69, abs=0.005)


@pytest.mark.parametrize(
    ("parts", "years", "source"),
    [
        ([50, 20], 14.3, "I.3.2, formula I.1"),
        ([20, 20, 20], 6.7, "I.4.2, formula I.3"),
        ([30], 30.0, "I.4.2, formula I.2"),
        ([2604.2, 150, 1692.7], 130.9, "computed: switch, logic, contactor"),
    ],
)
def test_channels(parts, years, source) -> None:
    assert mttfd_series(parts) == pytest.approx(years, rel=0.006), source


@pytest.mark.parametrize(
    ("first", "second", "years", "source"),
    [
        (3, 100, 66.72, "D.2 prints 66 (truncated)"),
        (30, 20 / 3, 20.81, "I.4.2 prints 20 (truncated)"),
        (100, 35, 72.72, "computed by formula D.2"),
        (1692.7, 35, 72.72, "computed: the long channel counts as 100 before symmetrising"),
        (100, 100, 100, "equal channels stay"),
        (100, 1692.7, 100, "computed: both count as 100"),
        (1692.7, 1692.7, 1692.7, "both above the cap: the later cap comes to the same"),
    ],
)
def test_symmetrisation(first, second, years, source) -> None:
    assert mttfd_symmetrised(first, second) == pytest.approx(years, rel=0.0005), source
    assert mttfd_symmetrised(second, first) == mttfd_symmetrised(first, second)


def test_cap_after_symmetrising_would_be_optimistic() -> None:
    """The wrong order gives 100 years for channels of 1692.7 and 35: 1129 years, capped at the end."""
    wrong = min(100, 2 / 3 * (1692.7 + 35 - 1 / (1 / 1692.7 + 1 / 35)))
    assert wrong == 100
    assert mttfd_symmetrised(1692.7, 35, category="3") == pytest.approx(72.72, rel=0.0005)


def test_category_4_may_use_2500_years() -> None:
    """2015, 4.5.2 (reported by a public survey of the 2015 changes)."""
    assert mttfd_cap("4") == 2500
    assert mttfd_capped(1692.7, "4") == 1692.7
    assert mttfd_capped(1692.7, "3") == 100
    assert mttfd_capped(4000, 4) == 2500
    assert mttfd_symmetrised(1692.7, 35, category="4") == pytest.approx(1129.0, rel=0.0005)


@given(st.floats(3, 5000), st.floats(3, 5000), st.sampled_from(["1", "2", "3", "4"]))
def test_without_a_category_never_more_than_the_right_order(first, second, category) -> None:
    right = mttfd_symmetrised(first, second, category=category)
    assert mttfd_capped(mttfd_symmetrised(first, second), category) <= right * (1 + 1e-12)


@given(st.floats(3, 2500), st.floats(3, 2500), st.floats(1, 3))
def test_a_better_channel_never_lowers_the_symmetrised_value(first, second, factor) -> None:
    for category in (None, "3", "4"):
        better = mttfd_symmetrised(first * factor, second, category=category)
        assert better >= mttfd_symmetrised(first, second, category=category) * (1 - 1e-12)


@given(st.floats(3, 100), st.floats(3, 100))
def test_symmetrised_lies_between_two_thirds_of_the_sum_and_the_channels(first, second) -> None:
    years = mttfd_symmetrised(first, second)
    assert min(first, second) * (1 - 1e-12) <= years <= max(first, second) * (1 + 1e-12)


@given(st.lists(st.floats(1, 1e6), min_size=1, max_size=8), st.floats(1, 1e6))
def test_one_more_part_shortens_a_channel(parts, another) -> None:
    assert mttfd_series([*parts, another]) < mttfd_series(parts) <= min(parts) * (1 + 1e-12)


@given(st.lists(st.floats(1, 1e6), min_size=1, max_size=8))
def test_series_does_not_depend_on_the_order(parts) -> None:
    assert mttfd_series(parts) == mttfd_series(parts[::-1])


@pytest.mark.parametrize(
    ("years", "name"),
    [  # Table 5: 3 <= low < 10 <= medium < 30 <= high <= 100; a capped 100 still has a class
        (3, "low"),
        (9.999999, "low"),
        (10, "medium"),
        (29.999999, "medium"),
        (30, "high"),
        (100, "high"),
        (2500, "high"),
    ],
)
def test_classes(years, name) -> None:
    assert mttfd_class(years) == name


def test_below_three_years_no_class() -> None:
    with pytest.raises(RatingError, match="below 3 years"):
        mttfd_class(2.999999)


@pytest.mark.parametrize(
    ("given_", "name"), [("B", "B"), ("b", "B"), (1, "1"), ("2", "2"), (3, "3"), ("4", "4")]
)
def test_spellings_of_a_category(given_, name) -> None:
    assert category_name(given_) == name


@pytest.mark.parametrize("given_", ["", "5", 0, 5, 3.0, None, True, "cat 3", "PL d"])
def test_no_other_category(given_) -> None:
    with pytest.raises(RatingError, match="category"):
        category_name(given_)


@pytest.mark.parametrize(
    ("call", "args"),
    [
        (operations_per_year, (220, 24.1, 5)),  # more hours than a day has
        (operations_per_year, (366.5, 16, 5)),  # more days than a year has
        (operations_per_year, (16, 220, 5)),  # swapped
        (operations_per_year, (220, 16, 0)),
        (mttfd_from_b10d, (None, 7680)),  # missing B10d
        (mttfd_from_b10d, (1.3e6, 0)),  # a part that never moves has no rate
        (mttfd_from_b10d, (1e308, 1e-3)),  # overflow is not a rating
        (t10d, (-1.3e6, 7680)),
        (mttfd_series, ([],)),
        (mttfd_series, ([100, math.inf],)),
        (mttfd_series, ([100, 0],)),
        (mttfd_series, (100,)),
        (mttfd_symmetrised, (100, math.nan)),
    ],
)
def test_bad_input_is_one_error(call, args) -> None:
    with pytest.raises(RatingError):
        call(*args)


def test_an_error_says_what_and_what_is_needed() -> None:
    with pytest.raises(RatingError, match=r"b10d is None.*maker's data sheet"):
        mttfd_from_b10d(None, 7680)
