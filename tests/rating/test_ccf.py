"""Score against common cause failure: rows of Table F.1, all or nothing, 65 needed."""

from itertools import combinations

import pytest

from interlock.errors import RatingError
from interlock.rating.ccf import ENOUGH, MEASURES, ccf_enough, ccf_score


@pytest.mark.parametrize(
    ("name", "row", "points"),
    [  # AS 4024.1503 (adopts ISO 13849-1:2006), Table F.1
        ("separation", "1", 15),
        ("diversity", "2", 20),
        ("overload_protection", "3.1", 15),
        ("well_tried_components", "3.2", 5),
        ("failure_analysis", "4", 5),
        ("training", "5", 5),
        ("contamination_and_emc", "6.1", 25),
        ("other_influences", "6.2", 10),
    ],
)
def test_rows(name, row, points) -> None:
    assert (MEASURES[name].row, MEASURES[name].points) == (row, points)
    assert ccf_score([name]) == points


def test_all_rows_make_a_hundred() -> None:
    assert ccf_score(MEASURES) == 100
    assert ccf_score([]) == 0


def test_annex_i_example_b() -> None:
    """Table I.1: rows 1, 2, 3.2, 4, 6.1, 6.2 make 80, which is sufficient."""
    taken = [
        "separation",
        "diversity",
        "well_tried_components",
        "failure_analysis",
        "contamination_and_emc",
        "other_influences",
    ]
    assert ccf_score(taken) == 80
    assert ccf_enough(80)


@pytest.mark.parametrize(("score", "enough"), [(0, False), (64, False), (65, True), (100, True)])
def test_sixty_five_is_enough(score, enough) -> None:
    assert ccf_enough(score) is enough


def test_without_contamination_and_emc_the_rest_reaches_75() -> None:
    rest = set(MEASURES) - {"contamination_and_emc"}
    assert ccf_score(rest) == 75
    assert ccf_score(rest - {"diversity"}) == 55


def test_every_passing_selection_without_row_6_1_holds_rows_1_2_and_3_1() -> None:
    """Computed over all selections: 55 to 60 points are reached without any one of them."""
    rest = sorted(set(MEASURES) - {"contamination_and_emc"})
    for size in range(len(rest) + 1):
        for taken in combinations(rest, size):
            if ccf_score(taken) >= ENOUGH:
                assert {"separation", "diversity", "overload_protection"} <= set(taken)


@pytest.mark.parametrize("measures", [["emc"], ["separation", "separation"], "separation", [15], [None]])
def test_odd_measures(measures) -> None:
    with pytest.raises(RatingError):
        ccf_score(measures)


@pytest.mark.parametrize("score", [-1, 101, 64.5, None, True])
def test_odd_scores(score) -> None:
    with pytest.raises(RatingError):
        ccf_enough(score)
