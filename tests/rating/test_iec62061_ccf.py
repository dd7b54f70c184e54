"""Common cause by IEC 62061:2021, Annex E: the list, what is expected of it, and the factor that follows."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.ccf import MEASURES
from interlock.rating.iec62061 import beta_from_score
from interlock.rating.iec62061_ccf import EXPECTED, MEASURES_62061, ccf_points

REASONS = dict.fromkeys(EXPECTED, "does not apply here")
NAMES = sorted(MEASURES_62061)


@pytest.mark.parametrize(
    ("measure", "number", "points"),
    [
        ("signal_cables_apart", "1a", 5),
        ("coded_signals", "1b", 10),
        ("power_cables_apart", "2", 5),
        ("elements_apart", "3", 5),
        ("different_technology", "4", 8),
        ("different_principle", "5", 10),
        ("different_in_time", "6", 10),
        ("tested_every_minute", "7", 10),
        ("channels_not_linked", "8", 2),
        ("failure_analysis", "9", 9),
        ("field_failures_used", "10", 9),
        ("training", "11", 4),
        ("within_tested_environment", "12", 9),
        ("emc_immunity", "13", 9),
    ],
)
def test_the_list(measure, number, points) -> None:
    """IEC 62061:2005, Table F.1; 2021, Table E.1 (from memory)."""
    item = MEASURES_62061[measure]
    assert (item.row, item.points) == (number, points)


def test_separation_is_worth_25() -> None:
    """Seen in a maker's summary of the annex (reference P20: 'separation is worth 25')."""
    separation = ["1a", "1b", "2", "3"]
    assert sum(one.points for one in MEASURES_62061.values() if one.row in separation) == 25


def test_the_expected_items_are_9_11_12_and_13() -> None:
    """Seen in a public copy of Annex E, E.2.2 (2021): these are always addressed unless it can be justified."""
    assert [MEASURES_62061[name].row for name in EXPECTED] == ["9", "11", "12", "13"]


def test_it_is_another_list_than_that_of_iso_13849() -> None:
    assert {name: one.points for name, one in MEASURES.items()} != {
        name: one.points for name, one in MEASURES_62061.items()
    }
    with pytest.raises(RatingError, match="contamination_and_emc"):
        ccf_points([*EXPECTED, "contamination_and_emc"])


@pytest.mark.parametrize(
    ("more", "points", "beta"),
    [
        ([], 31, 0.10),  # the four expected ones: 9 + 4 + 9 + 9
        (["channels_not_linked"], 33, 0.10),
        (["signal_cables_apart"], 36, 0.05),
        (["signal_cables_apart", "power_cables_apart", "elements_apart", "different_technology"], 54, 0.05),
        (
            [
                "different_technology",
                "different_principle",
                "different_in_time",
                "tested_every_minute",
                "signal_cables_apart",
            ],
            74,
            0.02,
        ),
        ([name for name in NAMES if name not in EXPECTED], 100, 0.01),
    ],
)
def test_points_and_factor(more, points, beta) -> None:
    """Added by hand; factors of 2005, Table F.2 and 2021, Table E.2 (from memory)."""
    assert ccf_points([*EXPECTED, *more]) == points
    assert beta_from_score(points) == beta


@pytest.mark.parametrize("left_out", EXPECTED)
def test_an_expected_item_left_out_needs_its_reason(left_out) -> None:
    taken = [name for name in EXPECTED if name != left_out]
    with pytest.raises(RatingError, match=f"{left_out} not taken"):
        ccf_points(taken)
    assert ccf_points(taken, {left_out: "sealed unit"}) == 31 - MEASURES_62061[left_out].points


@pytest.mark.parametrize(
    ("measures", "reasons", "says"),
    [
        ("training", {}, "give a list of names"),
        (["training", "training"], REASONS, "name one twice"),
        (["luck"], REASONS, "luck"),
        ([*EXPECTED], {"training": "taken all the same"}, "only if not taken"),
        ([*EXPECTED], {"coded_signals": "no need"}, "a reason is given for coded_signals"),
    ],
)
def test_bad_answers_are_errors(measures, reasons, says) -> None:
    with pytest.raises(RatingError, match=says):
        ccf_points(measures, reasons)


subsets = st.sets(st.sampled_from(NAMES))


def without(taken: set[str]) -> dict[str, str]:
    return {name: "not here" for name in EXPECTED if name not in taken}


@given(subsets, st.sampled_from(NAMES))
def test_one_more_measure_never_lowers_the_score(taken, more) -> None:
    larger = taken | {more}
    assert ccf_points(larger, without(larger)) >= ccf_points(taken, without(taken))


@given(subsets)
def test_points_stay_within_the_table_and_the_factor_in_its_four_steps(taken) -> None:
    points = ccf_points(taken, without(taken))
    assert 0 <= points <= 100
    assert beta_from_score(points) in (0.10, 0.05, 0.02, 0.01)


@given(subsets)
def test_the_order_of_the_answers_does_not_matter(taken) -> None:
    found = {
        ccf_points(order, without(taken)) for order in itertools.islice(itertools.permutations(taken), 4)
    }
    assert len(found) == 1
