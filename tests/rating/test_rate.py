"""Whole functions: the worked examples of the standard, verdicts with their reasons, refused claims."""

import json
from datetime import date

import jsonschema
import pytest
from rating_benches import (
    CCF_70,
    COVER_STOP,
    COVERED,
    EXAMPLE_A,
    EXAMPLE_B,
    PROVEN,
    changed,
    facts,
    given_part,
    switch,
)

from interlock.errors import RatingError
from interlock.rating.chain_facts import Lock
from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
from interlock.rating.result import FunctionRating, Judgement, json_schema
from interlock.verdict import Verdict

FUNCTION = "functions__cover_stop"
GUARD = {"distance_mm": 400.0, "approach_speed_mm_s": 1600.0, "intrusion_mm": 0.0}


def rated(section, supported=PROVEN, *, chain=COVERED, **more) -> FunctionRating:
    result = rate(read_rating(section), supported_categories=supported, chain=chain, **more)
    (function,) = result.functions
    return function


def judged(function: FunctionRating, about: str) -> Judgement:
    return next(judgement for judgement in function.judgements if judgement.about == about)


# ---- worked examples: AS 4024.1503 (adopts ISO 13849-1:2006), Annex I ----


def test_annex_i_example_a() -> None:
    """14.3 years, no coverage, category B: PL b, which does not match the required c."""
    function = rated(EXAMPLE_A, {"guard": ["B", "1"]})
    assert (function.required_pl, function.pl, function.verdict) == ("c", "b", Verdict.FAIL)
    assert function.subsystems[0].mttfd_years == pytest.approx(14.3, abs=0.05)
    assert function.pfhd_per_h == 8.78e-6
    assert "PL c required, PL b reached" in judged(function, "performance level").sentence


def test_annex_i_example_a_claimed_as_category_1_is_refused() -> None:
    section = changed(EXAMPLE_A, functions__guard__subsystems__all__category=1)
    function = rated(section, {"guard": ["B", "1"]})
    assert (function.pl, function.verdict) == (None, Verdict.FAIL)
    assert "needs 30 years" in judged(function, "performance level").sentence


def test_annex_i_example_b() -> None:
    """20 (20.8) years, 67.1 %, 80 points, category 3: PL c, which matches."""
    function = rated(EXAMPLE_B, {"guard": ["3"]})
    whole = function.subsystems[0]
    assert whole.mttfd_years == pytest.approx(20.81, abs=0.005)
    assert whole.dc_average == pytest.approx(0.671, abs=0.0005)
    assert whole.ccf_score == 80
    assert (function.required_pl, function.pl, function.verdict) == ("c", "c", Verdict.PASS)
    assert function.pfhd_per_h == 1.22e-6


# ---- levels ----


def test_cover_stop() -> None:
    """Two capped channels of category 3, medium: 4.29e-8 twice, and 4.9e-9: 9.07e-8, PL e (computed by hand)."""
    function = rated(COVER_STOP)
    assert function.pfhd_per_h == pytest.approx(9.07e-8, rel=1e-9)
    assert (function.pl, function.sil, function.verdict) == ("e", 3, Verdict.PASS)
    assert [subsystem.pl for subsystem in function.subsystems] == ["e", "e", "e"]


def test_a_level_is_not_passed_without_proof_of_structure() -> None:
    function = rated(COVER_STOP, None)
    assert (function.pl, function.verdict) == ("e", Verdict.INCONCLUSIVE)
    assert (
        "the structure of input, output supports the category was not shown"
        in function.judgements[0].sentence
    )


def test_a_level_is_not_passed_without_cover_of_the_chain() -> None:
    function = rated(COVER_STOP, chain=None)
    assert (function.pl, function.verdict) == ("e", Verdict.INCONCLUSIVE)
    assert "that the subsystems cover the whole chain was not shown" in function.judgements[0].sentence


def test_a_function_whose_cover_nobody_examined_is_not_passed() -> None:
    assert rated(COVER_STOP, chain=facts(unrated={"other": ()})).verdict is Verdict.INCONCLUSIVE


def test_a_device_that_nothing_rated_names_refuses_the_claim() -> None:
    """No level, no failure rate, no SIL, and no table of what would help: nothing but rating it helps."""
    reason = "between cover and torque off lies the main contactor (bench.yaml:7:3)"
    function = rated(COVER_STOP, chain=facts(unrated={"cover_stop": (reason,)}))
    assert (function.pl, function.pl_at_best, function.pfhd_per_h, function.sil) == (None, None, None, None)
    assert (function.verdict, function.effects) == (Verdict.FAIL, ())
    assert reason in function.judgements[0].sentence
    assert [subsystem.pl for subsystem in function.subsystems] == ["e", "e", "e"]  # each of them stands


def test_what_is_left_out_is_told_with_its_reason() -> None:
    section = changed(COVER_STOP, **{f"{FUNCTION}__not_rated": {"contactor": "a second way to the same end"}})
    assert any("Reason given: a second way to the same end." in text for text in rated(section).cautions)


def test_a_function_that_the_proof_does_not_name_is_not_proven() -> None:
    assert rated(COVER_STOP, {"other_stop": ["3"]}).verdict is Verdict.INCONCLUSIVE


def test_structure_that_does_not_support_the_claim_refuses_it() -> None:
    """Bridged channels: the chain shows categories B and 1 only."""
    function = rated(COVER_STOP, {"cover_stop": ["B", "1"]})
    assert (function.pl, function.pfhd_per_h, function.verdict) == (None, None, Verdict.FAIL)
    assert "the structure as wired supports only category B or 1" in function.judgements[0].sentence


def test_support_may_be_stated_for_each_subsystem() -> None:
    supported = {"cover_stop": ["B", "1", "3"], "cover_stop/output": ["B"]}
    function = rated(COVER_STOP, supported)
    assert [subsystem.pl for subsystem in function.subsystems] == ["e", "e", None]
    assert function.weakest_subsystem == "output"


def test_category_4_with_low_coverage_is_refused() -> None:
    section = changed(
        COVER_STOP,
        **{f"{FUNCTION}__subsystems__output__category": 4},
        parts__drive=given_part(150, 0.6),
    )
    function = rated(section, {"cover_stop": ["3", "4"]})
    assert function.verdict is Verdict.FAIL
    assert (
        "category 4 needs an average diagnostic coverage of at least 'high'"
        in function.judgements[0].sentence
    )


def test_too_little_against_common_cause_is_refused() -> None:
    function = rated(changed(COVER_STOP, **{f"{FUNCTION}__subsystems__input__ccf": CCF_70[:2]}))
    assert "65 points" in function.judgements[0].sentence
    assert function.verdict is Verdict.FAIL


def test_the_lowest_level_limits_the_sum() -> None:
    logic = {"pl": "c", "pfhd_per_h": 1e-9, "source": "relay with systematic capability for c only"}
    function = rated(changed(COVER_STOP, **{f"{FUNCTION}__subsystems__logic": logic}))
    assert (function.pl, function.verdict, function.weakest_subsystem) == ("c", Verdict.FAIL, "logic")


def test_a_maker_level_without_figure_combines_by_number() -> None:
    """Three of level e: by Table 11 e stays; there is no sum."""
    function = rated(
        changed(COVER_STOP, **{f"{FUNCTION}__subsystems__logic": {"pl": "e", "source": "relay"}})
    )
    assert (function.pl, function.pfhd_per_h) == ("e", None)


def test_too_many_weak_subsystems_leave_no_level() -> None:
    weak = {name: {"pl": "a", "source": "x"} for name in "klmn"}
    function = rated(changed(COVER_STOP, **{f"{FUNCTION}__subsystems": weak}))
    assert (function.pl, function.verdict) == (None, Verdict.FAIL)
    assert "none allowed" in function.judgements[0].sentence


def test_category_2_needs_its_test() -> None:
    single = {"category": 2, "channels": [["contactor_1"]], "ccf": CCF_70}
    section = changed(COVER_STOP, **{f"{FUNCTION}__subsystems__output": single})
    assert "category 2 needs a test" in rated(section).judgements[0].sentence
    single["test"] = {"on_demand_in_time": True, "test_channel_mttfd_years": 60.0}
    assert rated(changed(COVER_STOP, **{f"{FUNCTION}__subsystems__output": single})).pl == "d"  # 2.29e-7


def test_series_wired_switches_lose_coverage() -> None:
    """ISO/TR 24119: five rare guards in series allow low at most: 60 % instead of 99 %."""
    series = {"frequent": 0, "others": 5, "switches": ["switch_1", "switch_2"]}
    function = rated(changed(COVER_STOP, **{f"{FUNCTION}__subsystems__input__series_guards": series}))
    assert function.subsystems[0].dc_average == 0.60
    assert function.subsystems[0].pfhd_per_h == 1.01e-7
    assert function.pl == "d"
    series["frequent"] = 2
    refused = rated(changed(COVER_STOP, **{f"{FUNCTION}__subsystems__input__series_guards": series}))
    assert refused.pl is None


def test_a_channel_of_excluded_faults_only_is_an_error() -> None:
    excluded = {"source": "x", "fault_exclusion": "positive opening"}
    with pytest.raises(RatingError, match="every part of channel 1 is left out"):
        rated(changed(COVER_STOP, parts__switch_1=excluded))


def test_a_number_of_tests_has_no_place_in_a_rating() -> None:
    """A number of passed tests never becomes a level: the section has no key for it."""
    with pytest.raises(RatingError, match="tests_passed"):
        read_rating(changed(COVER_STOP, **{f"{FUNCTION}__tests_passed": 10_000}))


# ---- mission time, test interval, guard ----


def test_a_part_beyond_its_t10d_is_refused_until_its_replacement_is_planned() -> None:
    """Button B10d 1e5 at 7680 a year: T10d 13.02 years, below the mission time of 20."""
    worn = changed(COVER_STOP, parts__switch_1=switch(b10d=1e5))
    finding = judged(rated(worn), "mission time")
    assert finding.verdict is Verdict.FAIL
    assert "at most 13.02" in finding.sentence
    planned = changed(worn, parts__switch_1__replaced_every_years=13.0)
    assert judged(rated(planned), "mission time").verdict is Verdict.PASS
    late = changed(worn, parts__switch_1__replaced_every_years=13.1)
    assert judged(rated(late), "mission time").verdict is Verdict.FAIL


def test_a_t10d_known_as_a_range_leaves_it_open() -> None:
    worn = changed(COVER_STOP, parts__switch_1=switch(b10d=[1e5, 2e5]))
    assert judged(rated(worn), "mission time").verdict is Verdict.INCONCLUSIVE


def test_a_mission_time_above_20_years_is_refused() -> None:
    finding = judged(rated(changed(COVER_STOP, mission_time_years=25.0)), "mission time")
    assert finding.verdict is Verdict.FAIL
    assert "25 years, the table holds for 20" in finding.sentence


@pytest.mark.parametrize(
    ("required", "months", "verdict"),
    [
        ("d", 12.0, Verdict.PASS),
        ("d", 12.5, Verdict.FAIL),
        ("e", 1.0, Verdict.PASS),
        ("e", 12.0, Verdict.FAIL),
    ],
)
def test_the_test_interval_follows_the_required_level(required, months, verdict) -> None:
    section = changed(
        COVER_STOP, **{f"{FUNCTION}__required": {"pl": required}, f"{FUNCTION}__proof_test_months": months}
    )
    assert judged(rated(section), "test interval").verdict is verdict


def test_an_unplanned_proof_test_is_inconclusive() -> None:
    section = changed(COVER_STOP, **{f"{FUNCTION}__proof_test_months": None})
    assert judged(rated(section), "test interval").verdict is Verdict.INCONCLUSIVE


def test_no_interval_is_named_for_level_c() -> None:
    function = rated(changed(COVER_STOP, **{f"{FUNCTION}__required": {"pl": "c"}}))
    assert all(judgement.about != "test interval" for judgement in function.judgements)


@pytest.mark.parametrize(
    ("stop", "verdict", "says"),
    [
        (None, Verdict.NOT_OBSERVED, "measure the overall stop"),
        (0.25, Verdict.PASS, "400 mm needed"),
        (0.2501, Verdict.FAIL, "401 mm needed"),
        (12, Verdict.FAIL, "19200 mm needed"),
        ({"cover_stop": 0.2}, Verdict.PASS, "320 mm needed"),
        ({"other_stop": 0.2}, Verdict.NOT_OBSERVED, "No stop was measured"),
    ],
)
def test_distance_of_the_guard(stop, verdict, says) -> None:
    """ISO 13855: cover 400 mm from the shaft allows 0.250 s."""
    function = rated(changed(COVER_STOP, **{f"{FUNCTION}__guard": GUARD}), stop_time_upper_s=stop)
    finding = judged(function, "guard distance")
    assert finding.verdict is verdict
    assert says in finding.sentence
    assert function.verdict is verdict


def test_a_long_coast_down_asks_for_locking_and_its_delay() -> None:
    function = rated(changed(COVER_STOP, **{f"{FUNCTION}__guard": GUARD}), stop_time_upper_s=27.41)
    sentence = judged(function, "guard distance").sentence
    assert "guard locking is needed" in sentence
    assert "no sooner than 27.5 s" in sentence


TIMED = {"times_s": [70.0, 61.0, 66.0], "uncertain_s": 0.5, "day": "2026-02-01", "how": "stopwatch"}


@pytest.mark.parametrize(
    ("delay", "timed", "verdict"),
    [
        (27.41, TIMED, Verdict.PASS),
        (27.4, TIMED, Verdict.FAIL),
        (60.5, TIMED, Verdict.PASS),
        (60.6, TIMED, Verdict.INCONCLUSIVE),
        (60.0, None, Verdict.NOT_OBSERVED),
    ],
)
def test_unlocking_by_time(delay, timed, verdict) -> None:
    """The function is no better than its guard: a delay that nobody timed leaves it open."""
    guard = {**GUARD, "unlock": "delay", "unlock_delay_s": delay}
    section = changed(
        COVER_STOP, **{f"{FUNCTION}__guard": guard if timed is None else {**guard, "unlock_timed": timed}}
    )
    function = rated(section, stop_time_upper_s=27.41, today=date(2026, 3, 1))
    assert judged(function, "unlock delay").verdict is verdict
    assert function.verdict is verdict


def test_unlocking_at_standstill_passes_only_if_it_was_shown() -> None:
    section = changed(COVER_STOP, **{f"{FUNCTION}__guard": {**GUARD, "unlock": "standstill"}})
    assert rated(section, stop_time_upper_s=27.41).verdict is Verdict.NOT_OBSERVED
    held = facts(locked={"cover_stop": Lock(Verdict.PASS, "the cover is never freed while the shaft turns")})
    assert rated(section, chain=held).verdict is Verdict.PASS


@pytest.mark.parametrize("stop", [0, -1.0, float("nan"), float("inf")])
def test_odd_stop_times_are_errors(stop) -> None:
    with pytest.raises(RatingError, match="stop time of cover_stop"):
        rated(COVER_STOP, stop_time_upper_s=stop)


# ---- the whole result ----


def test_the_worst_verdict_rules() -> None:
    section = changed(COVER_STOP, functions__second=COVER_STOP["functions"]["cover_stop"])
    result = rate(read_rating(section), supported_categories=PROVEN, chain=COVERED)
    assert [function.verdict for function in result.functions] == [Verdict.PASS, Verdict.INCONCLUSIVE]
    assert result.verdict is Verdict.INCONCLUSIVE


def test_json_is_plain_and_follows_its_schema() -> None:
    for section in (COVER_STOP, EXAMPLE_A, EXAMPLE_B):
        result = rate(read_rating(section), stop_time_upper_s=1.0)
        plain = json.loads(json.dumps(result.as_json(), allow_nan=False))
        jsonschema.validate(plain, json_schema())
        assert plain == result.as_json()


def test_same_input_same_json() -> None:
    first, second = (rate(read_rating(COVER_STOP), supported_categories=PROVEN).as_json() for _ in range(2))
    assert first == second


def test_cautions_stand_in_every_result() -> None:
    text = " ".join(rate(read_rating(EXAMPLE_A)).cautions)
    for words in (
        "neither a certificate nor a risk assessment",
        "local law",
        "competent person",
        "not isolation",
        "from memory",
    ):
        assert words.lower() in text.lower()


def test_cautions_of_parts_and_measures() -> None:
    part = switch(typical="emergency_stop", b10d=None, dc_measure="cross_monitoring")
    del part["b10d"]
    text = " ".join(rated(changed(COVER_STOP, parts__switch_1=part)).cautions)
    assert "direct opening" in text
    assert "rarely opened covers earn little" in text
    excluded = next(one for one in rated(EXAMPLE_B, {"guard": ["3"]}).cautions if "No day" not in one)
    assert excluded.startswith("SW1B: fault exclusion to be justified in the fault list")


@pytest.mark.parametrize("edition", [2015, 2023])
def test_every_step_names_the_edition(edition) -> None:
    function = rated(changed(COVER_STOP, edition=edition))
    sources = [step.source for step in function.steps if "13849" in step.source]
    assert sources
    assert all(f"ISO 13849-1:{edition}" in source for source in sources)


def test_both_editions_reach_the_same_level_here() -> None:
    """Table K.1 is unchanged in 2023 (from memory)."""
    old, new = rated(COVER_STOP), rated(changed(COVER_STOP, edition=2023))
    assert (old.pl, old.pfhd_per_h) == (new.pl, new.pfhd_per_h)


@pytest.mark.parametrize(
    ("required", "verdict"), [("a", "fail"), ("b", "fail"), ("c", "pass"), ("d", "pass"), ("e", "pass")]
)
def test_an_emergency_stop_needs_level_c_at_least(required, verdict) -> None:
    """ISO 13850:2015, 4.1.5.1 (from memory)."""
    months = {f"{FUNCTION}__proof_test_months": 1.0}
    section = changed(COVER_STOP, **{f"{FUNCTION}__required": {"pl": required}}, **months)
    assert rated(section, chain=facts(emergency=("cover_stop",))).verdict == verdict
    assert rated(section, chain=facts(emergency=("other",))).verdict is Verdict.PASS
