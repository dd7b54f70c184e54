"""The same functions by IEC 62061: figures by hand, structure limits, verdicts."""

import pytest
from rating_benches import COVER_STOP, COVERED, PROVEN, changed, facts, given_part, switch

from interlock.errors import RatingError
from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
from interlock.verdict import Verdict

D = {"architecture": "D", "beta": 0.02, "proof_test_h": 175_200.0, "diagnostic_test_h": 1.140625}
MAKER = {"sil": 3, "pfh_per_h": 4.9e-9}
SUBS = "functions__cover_stop__subsystems"


def function_of(required=2, **how):
    section = changed(
        COVER_STOP,
        functions__cover_stop__required_sil=required,
        parts__switch_1=switch(b10d=1.3e6),
        parts__switch_2=switch(b10d=1.3e6),
        **{f"{SUBS}__input__iec62061": how.get("input", D)},
        **{f"{SUBS}__logic__iec62061": how.get("logic", MAKER)},
        **{f"{SUBS}__output__iec62061": how.get("output", {**MAKER})},
        **how.get("changes", {}),
    )
    (function,) = rate(
        read_rating(section),
        supported_categories=how.get("supported", PROVEN),
        chain=how.get("chain", COVERED),
    ).functions
    finding = next(
        judgement for judgement in function.judgements if judgement.about == "safety integrity level"
    )
    return {step.title: step for step in function.steps}, finding


def test_two_contactors_by_architecture_d() -> None:
    """Two parts of 6.744e-8, DC 99 %, β 2 %, T1 20 years, T2 8760/7680 h: 1.356e-9 (computed apart)."""
    steps, finding = function_of()
    assert steps["input: PFH of architecture D"].result == pytest.approx(1.356e-9, rel=0.001)
    assert steps["function: PFH"].result == pytest.approx(1.356e-9 + 2 * 4.9e-9, rel=0.001)
    assert steps["function: SIL"].result == 3
    assert finding.verdict is Verdict.PASS


def test_the_proof_test_interval_is_cut_by_mission_time_and_t10d() -> None:
    """T1 is the shorter of proof-test interval and useful lifetime: T10d of B10d 1e5 at 7680 is 13.02 years."""
    worn = {"parts__switch_1": switch(b10d=1e5, replaced_every_years=13.0)}
    section = changed(
        COVER_STOP,
        functions__cover_stop__required_sil=1,
        **worn,
        **{
            f"{SUBS}__input__iec62061": D,
            f"{SUBS}__logic__iec62061": MAKER,
            f"{SUBS}__output__iec62061": MAKER,
        },
    )
    (function,) = rate(read_rating(section), supported_categories=PROVEN, chain=COVERED).functions
    step = next(step for step in function.steps if step.title == "input: PFH of architecture D")
    assert dict(step.numbers)["T1"] == pytest.approx(13.02 * 8760, rel=0.001)


def test_architecture_b_has_no_use_for_coverage() -> None:
    """Without diagnostics: 2.114e-9 (computed apart)."""
    steps, _ = function_of(input={"architecture": "B", "beta": 0.02, "proof_test_h": 175_200.0})
    assert steps["input: PFH of architecture B"].result == pytest.approx(2.114e-9, rel=0.001)


def test_the_structure_limits_the_claim() -> None:
    """Parts tested to 60 % in two channels: SFF at least 0.60, HFT 1, SIL 2 at most (Table 6, from memory)."""
    weak = {
        "parts__contactor_1": given_part(100, 0.6),
        "parts__drive": given_part(100, 0.7),
    }
    steps, finding = function_of(3, output=D, changes=weak)
    assert dict(steps["output: SIL limit of the structure"].numbers)["F"] == pytest.approx(0.6)
    assert steps["output: SIL limit of the structure"].result == 2
    assert steps["function: SIL"].result == 2
    assert finding.verdict is Verdict.FAIL
    assert "SIL 3 required, SIL 2 reached" in finding.sentence


def test_a_stated_safe_failure_fraction_counts() -> None:
    weak = {"parts__contactor_1": given_part(100, 0.6), "parts__drive": given_part(100, 0.7)}
    _, finding = function_of(
        3, output={**D, "proof_test_h": 87_600.0, "safe_failure_fraction": 0.95}, changes=weak
    )
    assert finding.verdict is Verdict.PASS


def test_a_single_untested_channel_may_claim_nothing() -> None:
    """Architecture A, HFT 0, SFF below 60 %: not allowed (the exception for well-tried parts is not taken)."""
    single = {f"{SUBS}__output": {"category": 1, "channels": [["drive"]], "iec62061": {"architecture": "A"}}}
    single["parts__drive"] = given_part(150)
    _, finding = function_of(1, changes=single)
    assert finding.verdict is Verdict.FAIL
    assert "not allowed" in finding.sentence


def test_architecture_c() -> None:
    """One channel of 1/(8760 · 100) an hour, 90 % detected: 1.142e-7, SFF 0.9 at HFT 0 allows SIL 2."""
    single = {f"{SUBS}__output": {"category": 1, "channels": [["drive"]], "iec62061": {"architecture": "C"}}}
    single["parts__drive"] = given_part(100, 0.9)
    steps, finding = function_of(2, changes=single)
    assert steps["output: PFH of architecture C"].result == pytest.approx(1.1416e-7, rel=1e-3)
    assert steps["function: SIL"].result == 2
    assert finding.verdict is Verdict.PASS


def test_channels_must_fit_the_architecture() -> None:
    _, finding = function_of(2, output={"architecture": "C"})
    assert finding.verdict is Verdict.FAIL
    assert "architecture C has 1 channel(s), 2 given" in finding.sentence


def test_the_lowest_maker_limit_rules() -> None:
    _, finding = function_of(2, logic={"sil": 1, "pfh_per_h": 1e-9})
    assert finding.verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("beta", "verdict"),
    [([0.02, 0.03], Verdict.PASS), ([0.02, 0.9], Verdict.INCONCLUSIVE), ([0.8, 0.9], Verdict.FAIL)],
)
def test_common_cause_known_as_a_range(beta, verdict) -> None:
    """With rates of 1.14e-6 an hour each, SIL 3 (below 1e-7) needs β below about 8 %."""
    parts = {"parts__contactor_1": given_part(100, 0.99), "parts__drive": given_part(100, 0.99)}
    _, finding = function_of(3, output={**D, "beta": beta}, changes=parts)
    assert finding.verdict is verdict


def test_every_figure_from_memory_says_so() -> None:
    steps, _ = function_of()
    for title in ("input: PFH of architecture D", "input: SIL limit of the structure", "function: SIL"):
        assert "from memory" in str(steps[title])


def test_two_channels_that_nobody_examined_are_inconclusive() -> None:
    _, finding = function_of(supported=None)
    assert finding.verdict is Verdict.INCONCLUSIVE
    assert "two channels of input were not shown" in finding.sentence


def test_two_channels_that_the_wiring_bridges_are_refused() -> None:
    _, finding = function_of(supported={"cover_stop": ["B", "1"]})
    assert finding.verdict is Verdict.FAIL
    assert "does not carry two channels in input" in finding.sentence


def test_a_single_channel_needs_no_second_one() -> None:
    single = {f"{SUBS}__output": {"category": 1, "channels": [["drive"]], "iec62061": {"architecture": "C"}}}
    single["parts__drive"] = given_part(100, 0.9)
    supported = {"cover_stop": ["1", "3"], "cover_stop/output": ["1"]}
    _, finding = function_of(2, changes=single, supported=supported)
    assert finding.verdict is Verdict.PASS


ALL_ITEMS = [
    "signal_cables_apart",
    "elements_apart",
    "different_technology",
    "failure_analysis",
    "training",
    "within_tested_environment",
    "emc_immunity",
]
BY_LIST = {key: value for key, value in D.items() if key != "beta"} | {"ccf": ALL_ITEMS}


def test_the_factor_follows_from_the_list() -> None:
    """5 + 5 + 8 + 9 + 4 + 9 + 9 = 49 points: 5 % (IEC 62061:2021, Annex E, from memory)."""
    steps, _ = function_of(input=BY_LIST)
    assert steps["input: points against common cause by IEC 62061"].result == 49
    assert steps["input: common-cause factor"].result == 0.05
    stated, _ = function_of(input={**D, "beta": 0.05})
    assert steps["input: PFH of architecture D"].result == stated["input: PFH of architecture D"].result


def test_a_weak_list_costs_the_level_that_a_good_one_reaches() -> None:
    """Two parts of 6.7e-8 with 10 % instead of 5 % in common: twice the failures."""
    weak = {**BY_LIST, "ccf": ["failure_analysis", "training", "within_tested_environment", "emc_immunity"]}
    poor, good = (function_of(input=one)[0]["function: PFH"].result for one in (weak, BY_LIST))
    assert poor > good


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ({**BY_LIST, "beta": 0.02}, "in place of beta"),
        ({key: value for key, value in D.items() if key != "beta"}, r"also needed: beta \(or ccf\)"),
        ({**BY_LIST, "ccf": ["training"]}, "expects that; take it, or give the reason"),
        ({**D, "ccf_without": {"training": "none"}}, "ccf_without goes with ccf"),
        ({"architecture": "A", "ccf": ALL_ITEMS}, "for architecture B or D"),
        ({**BY_LIST, "ccf": [*ALL_ITEMS, "separation"]}, "separation"),  # of the list of ISO 13849-1
    ],
)
def test_odd_lists_are_errors(how, says) -> None:
    with pytest.raises(RatingError, match=says):
        function_of(input=how)


def test_a_chain_that_is_not_covered_refuses_the_sil() -> None:
    _, finding = function_of(chain=facts(unrated={"cover_stop": ("the drives are not rated",)}))
    assert finding.verdict is Verdict.FAIL
    assert "the claim is refused: the drives are not rated" in finding.sentence


def test_a_chain_that_nobody_examined_passes_no_sil() -> None:
    _, finding = function_of(chain=None)
    assert finding.verdict is Verdict.INCONCLUSIVE
    assert "that the subsystems cover the whole chain was not shown" in finding.sentence
