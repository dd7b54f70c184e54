"""Guards in series lower the coverage of the subsystem that names them; ISO/TR 24119:2015, Table 1."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rating_benches import COVER_STOP, PROVEN, changed, facts

from interlock.rating.inputs import read_rating
from interlock.rating.masked import masking_notes, with_masking
from interlock.rating.rate import rate
from interlock.rating.result import FunctionRating
from interlock.verdict import Verdict

SUB = "functions__cover_stop__subsystems"
NAMED = changed(
    COVER_STOP, **{f"{SUB}__input__devices": ["door_1", "door_2"], f"{SUB}__logic__devices": ["relay"]}
)


def masked(dc: str, *guards: str):
    return facts(masked={guard: (dc, f"In series: {', '.join(guards)}.") for guard in guards})


def rated(chain, section=NAMED) -> FunctionRating:
    (function,) = rate(read_rating(section), supported_categories=PROVEN, chain=chain).functions
    return function


@pytest.mark.parametrize(
    ("dc", "coverage", "pfhd", "pl"),
    [
        ("medium", 0.90, 4.29e-8, "e"),  # row 100 years, category 3, medium (Table K.1)
        ("low", 0.60, 1.01e-7, "d"),  # row 100 years, category 3, low
    ],
)
def test_the_class_of_the_wiring_limits_the_coverage_claimed(dc, coverage, pfhd, pl) -> None:
    function = rated(masked(dc, "door_1", "door_2"))
    assert (function.subsystems[0].dc_average, function.subsystems[0].pfhd_per_h) == (coverage, pfhd)
    assert function.pl == pl


def test_no_coverage_refuses_category_3() -> None:
    function = rated(masked("none", "door_1"))
    assert (function.pl, function.verdict) == (None, Verdict.FAIL)
    assert any("average coverage 0 %" in why for why in function.subsystems[0].refused_because)


def test_other_subsystems_keep_theirs() -> None:
    function = rated(masked("low", "door_1", "door_2"))
    assert function.subsystems[2].dc_average == pytest.approx(rated(facts()).subsystems[2].dc_average)


def test_guards_that_nothing_here_names_change_nothing() -> None:
    assert rated(masked("none", "door_9", "door_8")) == rated(facts())


def test_the_reader_is_told_why() -> None:
    cautions = rated(masked("low", "door_1", "door_2")).cautions
    assert cautions.count("input: In series: door_1, door_2.") == 1


def test_a_level_of_the_maker_stays_but_is_doubted() -> None:
    chain = masked("none", "relay")
    function = read_rating(NAMED).functions["cover_stop"]
    assert "ask whether that holds for guards in series" in masking_notes(function, chain)[-1]
    assert rated(chain).subsystems[1].pl == "e"


def test_a_stated_limit_counts_too_and_the_worse_of_both() -> None:
    stated = changed(NAMED, **{f"{SUB}__input__coverage_at_most": "low"})
    assert rated(facts(), stated).subsystems[0].dc_average == 0.60
    assert rated(masked("medium", "door_1"), stated).subsystems[0].dc_average == 0.60
    assert rated(masked("none", "door_1"), stated).pl is None


def test_a_limit_never_raises_what_is_claimed() -> None:
    weak = changed(NAMED, parts__switch_1__dc=0.0, parts__switch_1__dc_measure="cross_monitoring")
    assert rated(masked("medium", "door_1"), weak).subsystems[0].dc_average < 0.90


@given(
    st.sampled_from(["none", "low", "medium"]), st.sets(st.sampled_from(["door_1", "door_2", "relay", "x"]))
)
def test_masking_never_improves_a_rating(dc, guards) -> None:
    rank = {"a": 0, "b": 1, "c": 2, "d": 3, "e": 4, None: -1}
    assert rank[rated(masked(dc, *sorted(guards))).pl] <= rank[rated(facts()).pl]


def test_without_a_chain_the_inputs_stay_as_they_are() -> None:
    inputs = read_rating(NAMED)
    assert with_masking(inputs, None) is inputs
    assert with_masking(inputs, facts()) is inputs
