"""A claimed category stands only on structure, parts, tests and measures together; each lack is named."""

from itertools import product

import pytest

from interlock.errors import RatingError
from interlock.rating.category import CategoryTest, check_claim
from interlock.rating.iso13849 import dc_class, performance_level, pfhd

GOOD_TEST = CategoryTest(on_demand_in_time=True, test_channel_mttfd=100)
# For each category the least that it asks for: AS 4024.1503 (adopts ISO 13849-1:2006), 6.2.3 to 6.2.7
LEAST = {
    "B": {"channels": 1, "mttfd": 3, "dc_average": 0.0},
    "1": {"channels": 1, "mttfd": 30, "dc_average": 0.0},
    "2": {"channels": 1, "mttfd": 3, "dc_average": 0.60, "ccf_score": 65, "test": GOOD_TEST},
    "3": {"channels": 2, "mttfd": 3, "dc_average": 0.60, "ccf_score": 65},
    "4": {"channels": 2, "mttfd": 30, "dc_average": 0.99, "ccf_score": 65},
}


@pytest.mark.parametrize("category", LEAST)
def test_the_least_stands(category) -> None:
    claim = check_claim(category, supported=[category], **LEAST[category])
    assert claim.stands
    assert claim.proven
    assert claim.refused_because == ()


@pytest.mark.parametrize("category", LEAST)
def test_an_unexamined_structure_is_not_proven(category) -> None:
    claim = check_claim(category, supported=None, **LEAST[category])
    assert claim.stands
    assert not claim.proven


@pytest.mark.parametrize("category", LEAST)
def test_a_structure_that_supports_nothing_refuses(category) -> None:
    claim = check_claim(category, supported=[], **LEAST[category])
    assert not claim.stands
    assert "supports no category" in claim.refused_because[0]


def test_bridged_channels_refuse_category_3() -> None:
    """What the chain shows of a bench with one bridged wire: categories B and 1 only."""
    claim = check_claim(3, supported=["B", 1], **LEAST["3"])
    assert claim.refused_because == (
        "the structure as wired supports only category B or 1; category 3 asks that a single fault does not lose the "
        "function (`interlock check --faults 1` tells which one does)",
    )


@pytest.mark.parametrize(
    ("category", "change", "says"),
    [
        ("1", {"mttfd": 29.99}, "needs 30 years"),
        ("4", {"mttfd": 29.99}, "needs 30 years"),
        ("3", {"mttfd": 2.99}, "below 3 years"),
        ("B", {"mttfd": 2.99}, "below 3 years"),
        ("4", {"dc_average": 0.989}, "at least 'high'"),
        ("3", {"dc_average": 0.599}, "at least 'low'"),
        ("2", {"dc_average": 0.599}, "at least 'low'"),
        ("3", {"ccf_score": 64}, "65 points"),
        ("4", {"ccf_score": 0}, "65 points"),
        ("2", {"ccf_score": 64}, "65 points"),
        ("3", {"channels": 1}, "2 channel"),
        ("4", {"channels": 1}, "2 channel"),
        ("2", {"channels": 2}, "1 channel"),
        ("2", {"test": None}, "needs a test"),
        ("2", {"test": CategoryTest(test_channel_mttfd=100)}, "100 tests a demand"),
        ("2", {"test": CategoryTest(tests_per_demand=99.9, test_channel_mttfd=100)}, "100 tests a demand"),
        ("2", {"test": CategoryTest(on_demand_in_time=True)}, "above half"),
        ("2", {"test": CategoryTest(on_demand_in_time=True, test_channel_mttfd=1.5)}, "above half"),
    ],
)
def test_each_lack_refuses_with_its_reason(category, change, says) -> None:
    claim = check_claim(category, supported=[category], **{**LEAST[category], **change})
    assert len(claim.refused_because) == 1
    assert says in claim.refused_because[0]


def test_test_rate_and_test_channel_of_category_2() -> None:
    """4.5.4: 100 tests a demand; the test channel above half of the functional channel (1.5 of 3 is not)."""
    enough = CategoryTest(tests_per_demand=100, test_channel_mttfd=1.501)
    assert check_claim("2", supported=["2"], **{**LEAST["2"], "test": enough}).stands


def test_the_test_channel_must_stand_up_to_the_best_channel_of_a_range() -> None:
    test = CategoryTest(on_demand_in_time=True, test_channel_mttfd=20)
    entry = {**LEAST["2"], "mttfd": 30, "test": test}
    assert check_claim("2", supported=["2"], **entry).stands
    assert not check_claim("2", supported=["2"], mttfd_at_most=50, **entry).stands


def test_all_lacks_are_named_at_once() -> None:
    claim = check_claim("4", supported=["3"], channels=1, mttfd=10, dc_average=0.9, ccf_score=0)
    assert len(claim.refused_because) == 5


def test_categories_b_and_1_need_no_score() -> None:
    for category in ("B", "1"):
        assert check_claim(category, supported=[category], ccf_score=0, **LEAST[category]).stands


def test_better_figures_never_cost_a_claim() -> None:
    better = {"mttfd": [3, 30, 100], "dc_average": [0.0, 0.6, 0.9, 0.99], "ccf_score": [0, 65, 100]}
    for category, channels in product(("B", "1", "3", "4"), (1, 2)):
        for mttfd, dc, score in product(*better.values()):
            entry = {"channels": channels, "mttfd": mttfd, "dc_average": dc, "ccf_score": score}
            if check_claim(category, supported=[category], **entry).stands:
                best = {"channels": channels, "mttfd": 100, "dc_average": 0.999, "ccf_score": 100}
                assert check_claim(category, supported=[category], **best).stands


def test_annex_i() -> None:
    """I.3.2: 14.3 years is no category 1; I.4.2: example B holds category 3 with 20.8 years, 67.1 %, 80 points."""
    assert not check_claim("1", supported=["1"], channels=1, mttfd=14.3, dc_average=0).stands
    assert check_claim("B", supported=["B"], channels=1, mttfd=14.3, dc_average=0).stands
    assert check_claim("3", supported=["3"], channels=2, mttfd=20.81, dc_average=0.671, ccf_score=80).stands


@pytest.mark.parametrize(
    ("category", "dc", "level"),
    [("B", 0, "b"), ("1", 0, "c"), ("2", 0.9, "d"), ("3", 0.9, "e"), ("4", 0.99, "e")],
)
def test_limits_of_level_by_category(category, dc, level) -> None:
    """6.2.3 to 6.2.7, by the best channel and coverage; level e of category 3 by calculation only (from memory)."""
    assert performance_level(pfhd(category, 1e6, dc_class(dc))) == level


@pytest.mark.parametrize("change", [{"mttfd": 0}, {"mttfd": float("nan")}, {"ccf_score": 101}])
def test_odd_figures_do_not_stand(change) -> None:
    try:
        claim = check_claim("3", supported=["3"], **{**LEAST["3"], **change})
    except RatingError:
        return
    assert not claim.stands


@pytest.mark.parametrize("supported", [["5"], [None]])
def test_odd_support(supported) -> None:
    with pytest.raises(RatingError):
        check_claim("3", supported=supported, **LEAST["3"])
