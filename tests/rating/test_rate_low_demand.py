"""Low demand by the section: PFDavg with what the proof test misses, its SIL, and claims that are refused."""

from typing import Any

import pytest
from rating_benches import COVER_STOP, COVERED, PROVEN, changed, facts

from interlock.errors import RatingError
from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
from interlock.rating.rate_low_demand import judge_low_demand
from interlock.rating.result import BenchRating
from interlock.rating.step import Mark
from interlock.verdict import Verdict

ELEMENT: dict[str, Any] = {
    "devices": ["contactor"],
    "architecture": "1oo1",
    "lambda_du_per_h": 1e-6,
    "proof_test_h": 8760,
    "proof_test_coverage": "complete",
    "lifetime_h": 175200,
    "mttr_h": 0,
    "source": "data sheet",
}
LOW: dict[str, Any] = {"required_sil": 2, "demands_per_year": 0.5, "elements": {"contactor": ELEMENT}}
TWO = {"architecture": "1oo2", "beta": 0.05, "beta_d": 0.02}


FOUND = facts(revealed={"contactor.welds": True, "contactor.coil_short": True, "relay.welds": False})


def judged(supported=None, *, chain=FOUND, **changes: Any) -> BenchRating:
    section = changed(COVER_STOP) | {"low_demand": {"cover_stop": changed(LOW, **changes)}}
    return judge_low_demand("cover_stop", read_rating(section).low_demand["cover_stop"], supported, chain)


def pfd(found: BenchRating) -> float:
    return next(float(step.result) for step in found.steps if step.title == "function: PFDavg")


def element(**changes: Any) -> dict[str, Any]:
    return {f"elements__contactor__{key}": value for key, value in changes.items()}


def test_one_channel_is_half_of_lambda_times_interval() -> None:
    """λ T / 2 = 1e-6 * 8760 / 2 = 4.38e-3: SIL 2 (IEC 61508-6, B.3.2.2.1; bands of IEC 61508-1, from memory)."""
    found = judged()
    assert pfd(found) == pytest.approx(4.38e-3)
    assert found.verdict is Verdict.PASS


@pytest.mark.parametrize(("coverage", "factor"), [(0.9, 0.9 + 0.1 * 20), (0.5, 0.5 + 0.5 * 20), (0.0, 20)])
def test_what_the_test_misses_stays_for_twenty_years(coverage, factor) -> None:
    """c T1 + (1 - c) T2 with T2 = 20 T1 (IEC 61508-6, B.3.2.5, from memory)."""
    assert pfd(judged(**element(proof_test_coverage=coverage))) == pytest.approx(4.38e-3 * factor)


def test_imperfect_tests_can_cost_the_level() -> None:
    found = judged(**element(proof_test_coverage=0.5))
    assert found.verdict is Verdict.FAIL
    assert "lies in the band of SIL 1" in found.judgements[0].sentence


def test_elements_in_series_add_up() -> None:
    both = judged(elements={"a": ELEMENT, "b": ELEMENT})
    assert pfd(both) == pytest.approx(2 * 4.38e-3)


def test_every_value_is_marked_from_memory() -> None:
    """All but tCE, which was seen in slides on the annex (reference P12), and the share that the plan finds."""
    marks = {step.title: step.mark for step in judged().steps}
    assert marks.pop("contactor: mean down time tCE") is Mark.PUBLISHED
    assert marks.pop("contactor: share of its failures that the proof test finds") is Mark.COMPUTED
    assert set(marks.values()) == {Mark.FROM_MEMORY}


@pytest.mark.parametrize(
    ("supported", "verdict"),
    [
        (None, "inconclusive"),
        (["B", "1"], "fail"),
        (["B", "1", "2", "3"], "pass"),
        (["4"], "pass"),
        ([], "fail"),
    ],
)
def test_redundancy_is_believed_only_where_the_structure_was_shown(supported, verdict) -> None:
    found = judged(supported, **element(**TWO))
    assert found.verdict == verdict
    if verdict == "fail":
        assert "the claim is refused" in found.judgements[0].sentence


def test_more_than_one_demand_a_year_is_not_low_demand() -> None:
    """IEC 61508-4:2010, 3.5.16 (from memory): no greater than one a year."""
    assert judged(demands_per_year=1.0).verdict is Verdict.PASS
    found = judged(demands_per_year=1.01)
    assert found.verdict is Verdict.FAIL
    assert "may not be claimed" in found.judgements[0].sentence


def test_a_level_out_of_reach_of_the_formulas_is_refused_not_invented() -> None:
    found = judged(**element(lambda_du_per_h=1e-4, proof_test_h=87600))
    assert found.verdict is Verdict.FAIL
    assert "the claim is refused" in found.judgements[0].sentence


def test_a_range_of_rates_counts_by_its_high_end() -> None:
    assert pfd(judged(**element(lambda_du_per_h=[1e-7, 1e-6]))) == pytest.approx(4.38e-3)


@pytest.mark.parametrize(
    "changes",
    [
        element(lambda_du_per_h=0),
        element(lambda_du_per_h=-1e-6),
        element(lambda_du_per_h=1.0),  # FIT or a year for an hour
        element(lambda_dd_per_h=1e-3),
        element(proof_test_coverage=1.0),
        element(proof_test_coverage="all"),
        element(lifetime_h=8759),
        element(mttr_h=-8),
        element(architecture="1oo2"),  # without beta
        element(architecture="1oo3"),
        element(source=""),
        {"required_sil": 4},
        {"demands_per_year": 0},
        {"elements": {}},
    ],
)
def test_bad_input_is_an_error(changes) -> None:
    with pytest.raises(RatingError, match=r"rating\.low_demand"):
        judged(**changes)


def test_it_must_be_a_function_that_is_described() -> None:
    with pytest.raises(RatingError, match=r"low_demand\.other_stop: describe it under functions too"):
        read_rating(changed(COVER_STOP) | {"low_demand": {"other_stop": LOW}})


def test_the_whole_rating_is_no_better_than_it() -> None:
    section = changed(COVER_STOP) | {"low_demand": {"cover_stop": changed(LOW, required_sil=3)}}
    result = rate(read_rating(section), supported_categories=PROVEN, chain=COVERED)
    assert (result.functions[0].verdict, result.verdict) == (Verdict.PASS, Verdict.FAIL)


# what chain and derived proof test show


def test_elements_that_do_not_cover_the_chain_are_refused() -> None:
    """A contactor without the button that trips it is no function."""
    why = "part of the chain is not rated: emergency stop"
    found = judged(chain=facts(unrated_low_demand={"cover_stop": (why,)}, revealed=FOUND.revealed))
    assert found.verdict is Verdict.FAIL
    assert f"the claim is refused: {why}." in found.judgements[0].sentence
    assert not found.steps  # nothing is computed for a chain with a hole


@pytest.mark.parametrize(
    ("chain", "says"),
    [
        (None, "that the elements cover the whole chain was not shown"),
        (facts(unrated_low_demand={}, revealed=FOUND.revealed), "cover the whole chain was not shown"),
        (facts(not_derived="the bench has too many states"), "was not shown: the bench has too many states"),
    ],
)
def test_what_nobody_has_shown_never_passes(chain, says) -> None:
    found = judged(chain=chain)
    assert found.verdict is Verdict.INCONCLUSIVE
    assert says in found.judgements[0].sentence


def test_a_fault_that_the_derived_test_does_not_show_stays_for_the_lifetime() -> None:
    """Nothing is found: λ T2 / 2 = 1e-6 * 175200 / 2 = 8.76e-2, SIL 1 instead of 2."""
    dark = facts(revealed={"contactor.welds": True, "contactor.mirror": False})
    found = judged(chain=dark)
    assert pfd(found) == pytest.approx(8.76e-2)
    assert found.verdict is Verdict.FAIL
    (share,) = [step for step in found.steps if "share of its failures" in step.title]
    assert share.result == 0.0
    assert "does not show contactor.mirror: state fault_shares" in share.source


def test_with_the_share_of_the_fault_stated_the_rest_is_found() -> None:
    """c = 0.95: (0.95 + 0.05 * 20) * 4.38e-3 = 8.54e-3."""
    dark = facts(revealed={"contactor.welds": True, "contactor.mirror": False})
    found = judged(chain=dark, **element(fault_shares={"contactor.welds": 0.95}))
    assert pfd(found) == pytest.approx(8.541e-3)
    assert found.verdict is Verdict.PASS


@pytest.mark.parametrize("architecture", ["1oo2", "1oo2D", "2oo3"])
def test_every_redundancy_needs_a_structure_that_carries_it(architecture) -> None:
    watched = {"lambda_sd_per_h": 0.0, "switching": 1.0} if architecture == "1oo2D" else {}
    changes = element(**TWO | watched | {"architecture": architecture})
    assert judged(["B", "1", "2"], **changes).verdict is Verdict.FAIL
    assert judged(["3"], **changes).verdict is Verdict.PASS
    assert judged(None, **changes).verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize("architecture", ["1oo1", "2oo2"])
def test_what_claims_no_redundancy_needs_none(architecture) -> None:
    assert judged(["B"], **element(architecture=architecture)).verdict is Verdict.PASS
