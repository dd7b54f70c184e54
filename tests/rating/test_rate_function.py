"""Ranges of inputs: the reported end is never too good, and the list says what would help most."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rating_benches import CCF_70, COVER_STOP, COVERED, PROVEN, changed, given_part, switch

from interlock.rating.inputs import read_rating
from interlock.rating.iso13849 import reaches
from interlock.rating.rate import rate
from interlock.rating.result import FunctionRating
from interlock.verdict import Verdict


def rated(section, supported=PROVEN) -> FunctionRating:
    (function,) = rate(read_rating(section), supported_categories=supported, chain=COVERED).functions
    return function


def output_of(first, second, required="d") -> dict:
    """The cover stop with these two parts as its only subsystem."""
    return changed(
        COVER_STOP,
        parts__contactor_1=first,
        parts__drive=second,
        functions__cover_stop__required={"pl": required},
        functions__cover_stop__subsystems={
            "output": {"category": 3, "channels": [["contactor_1"], ["drive"]], "ccf": CCF_70}
        },
    )


def test_the_pessimistic_end_is_reported_and_decides() -> None:
    """20 to 100 years: row 20 gives 4.85e-7 (d), row 100 gives 4.29e-8 (e)."""
    first, second = given_part(20, 0.9), given_part(20, 0.9)
    first["mttfd_years"] = second["mttfd_years"] = [20.0, 100.0]
    function = rated(output_of(first, second))
    assert (function.pfhd_per_h, function.pfhd_at_best_per_h) == (4.85e-7, 4.29e-8)
    assert (function.pl, function.pl_at_best, function.verdict) == ("d", "e", Verdict.PASS)


def test_a_range_across_the_required_level_is_inconclusive_and_named() -> None:
    first, second = given_part(20, 0.9), given_part(80, 0.9)  # 56 years, row 56: 1.03e-7, PL d
    first["mttfd_years"] = [20.0, 90.0]  # at best 85 years, row 82: 5.79e-8, PL e
    function = rated(changed(output_of(first, second, "e"), functions__cover_stop__proof_test_months=1.0))
    assert (function.pl, function.pl_at_best, function.verdict) == ("d", "e", Verdict.INCONCLUSIVE)
    assert function.decided_by == "contactor_1.mttfd_years"
    assert "narrow them" in function.judgements[0].sentence
    effect = function.effects[0]
    assert (effect.name, effect.pl, effect.stated_range) == ("contactor_1.mttfd_years", "e", True)


def test_both_ends_below_the_required_level_fail() -> None:
    first, second = given_part(10, 0.9), given_part(10, 0.9)
    first["mttfd_years"] = [10.0, 12.0]
    assert rated(output_of(first, second, "e")).verdict is Verdict.FAIL


def test_effects_are_sorted_by_gain() -> None:
    section = output_of(switch(b10d=[2e4, 6e4]), given_part(40, 0.9))
    function = rated(section)
    gains = [effect.gain for effect in function.effects]
    assert gains == sorted(gains, reverse=True)
    assert function.effects[0].name == function.decided_by == "contactor_1.b10d"
    assert function.effects[0].gain > 1
    assert {effect.name for effect in function.effects} == {
        "contactor_1.b10d",
        "contactor_1.dc",
        "drive.mttfd_years",
        "drive.dc",
    }


def test_exact_inputs_are_probed_ten_per_cent_better() -> None:
    effects = {
        effect.name: effect for effect in rated(output_of(given_part(20, 0.9), given_part(20, 0.9))).effects
    }
    assert effects["drive.mttfd_years"].if_better == pytest.approx(20 / 0.9)
    assert effects["drive.dc"].if_better == pytest.approx(0.91)
    assert not effects["drive.dc"].stated_range


def test_a_refusal_that_one_input_would_lift_is_named() -> None:
    """Coverage 55 to 95 % of the drive: at the low end category 3 is refused (57 % average)."""
    first, second = given_part(40, 0.6), given_part(20, 0.6)
    second["dc"] = [0.55, 0.95]
    function = rated(output_of(first, second))
    assert (function.pl, function.pl_at_best, function.verdict) == (None, "d", Verdict.INCONCLUSIVE)
    assert function.decided_by == "drive.dc"
    assert function.effects[0].gain is None  # from no level to a level


def test_with_rate_ranges_of_the_maker() -> None:
    logic = {"pl": "e", "pfhd_per_h": [1e-9, 9e-8], "source": "data sheet"}
    function = rated(changed(COVER_STOP, functions__cover_stop__subsystems__logic=logic))
    assert (function.pl, function.pl_at_best) == ("d", "e")
    assert function.decided_by == "logic.pfhd_per_h"


def test_a_better_part_may_cost_coverage_and_the_bound_knows() -> None:
    """A 99 % part known from 20 to 100 years beside a 60 % part of 20 years, and one of 95 %.

    At its worse end the average is 79.5 %, at its better end 66.5 %: the pessimistic average takes the latter.
    """
    first, second = given_part(20, 0.99), given_part(20, 0.6)
    first["mttfd_years"] = [20.0, 100.0]
    function = rated(output_of(first, second))
    assert function.subsystems[0].dc_average == pytest.approx(0.665, abs=0.0005)
    assert function.subsystems[0].mttfd_years == pytest.approx(20)


YEARS = st.floats(3.5, 300)
SHARE = st.floats(0.0, 0.99)


@st.composite
def ranged_part(draw):
    low, high = sorted([draw(YEARS), draw(YEARS)])
    dc_low, dc_high = sorted([draw(SHARE), draw(SHARE)])
    at, dc_at = draw(st.floats(0, 1)), draw(st.floats(0, 1))
    part = {"source": "x", "dc_source": "x"}
    wide = {**part, "mttfd_years": [low, high], "dc": [dc_low, dc_high]}
    point = {
        **part,
        "mttfd_years": low + at * (high - low),
        "dc": min(dc_high, dc_low + dc_at * (dc_high - dc_low)),
    }
    return wide, point


@settings(max_examples=60, deadline=None)
@given(ranged_part(), ranged_part())
def test_no_point_inside_the_ranges_is_worse_than_reported(first, second) -> None:
    wide = rated(output_of(first[0], second[0]))
    point = rated(output_of(first[1], second[1]))
    if wide.pl is not None:
        assert point.pl is not None
        assert point.pfhd_per_h <= wide.pfhd_per_h
        assert reaches(point.pl, wide.pl)
    if point.pl is not None:
        assert wide.pl_at_best is not None
        assert wide.pfhd_at_best_per_h <= point.pfhd_per_h


@settings(max_examples=60, deadline=None)
@given(ranged_part(), ranged_part(), st.sampled_from("cde"))
def test_a_range_never_decides_more_than_its_points(first, second, required) -> None:
    section = output_of(first[0], second[0], required)
    wide = rated(section).judgements[0].verdict
    point = rated(output_of(first[1], second[1], required)).judgements[0].verdict
    assert wide in (point, Verdict.INCONCLUSIVE)


@settings(max_examples=40, deadline=None)
@given(YEARS, YEARS, st.floats(0.9, 0.98), st.floats(1, 5))
def test_a_longer_life_at_equal_coverage_never_worsens(first, second, dc, factor) -> None:
    """The whole computation: more B10d (here MTTFd), same coverage in all parts."""
    base = rated(output_of(given_part(first, dc), given_part(second, dc)))
    better = rated(output_of(given_part(first * factor, dc), given_part(second, dc)))
    assert better.pfhd_per_h <= base.pfhd_per_h
    assert reaches(better.pl, base.pl)


@settings(max_examples=40, deadline=None)
@given(st.floats(1e4, 1e8), st.floats(10, 1e5), st.floats(1, 10))
def test_more_b10d_or_less_use_never_worsens(b10d, use, factor) -> None:
    def whole(cycles, times):
        part = switch(b10d=cycles, operations={"per_year": times}, replaced_every_years=1.0)
        return rated(output_of(part, {**part}))

    base = whole(b10d, use)
    if base.pl is not None:
        for other in (whole(b10d * factor, use), whole(b10d, use / factor)):
            assert other.pfhd_per_h <= base.pfhd_per_h


@settings(max_examples=40, deadline=None)
@given(st.floats(3.5, 300), st.floats(0.6, 0.98), st.floats(0, 1))
def test_better_coverage_never_worsens(years, dc, step) -> None:
    base = rated(output_of(given_part(years, dc), given_part(years, dc)))
    better = rated(output_of(given_part(years, dc + step * (0.99 - dc)), given_part(years, dc)))
    assert better.pfhd_per_h <= base.pfhd_per_h
