"""How verdicts combine: laws, and what no combination may ever do."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.verdict import EXIT_CODE, Verdict, worst

ORDER = [
    Verdict.FAIL,
    Verdict.INCONCLUSIVE,
    Verdict.NOT_OBSERVED,
    Verdict.PASS,
]  # worst first, as fixed for scripts
verdicts = st.lists(st.sampled_from(Verdict))


def test_there_are_four() -> None:
    assert set(Verdict) == set(ORDER)
    assert {verdict.value for verdict in Verdict} == {"pass", "fail", "inconclusive", "not_observed"}


@pytest.mark.parametrize(("one", "other"), list(itertools.product(ORDER, repeat=2)))
def test_of_two_the_worse_rules(one: Verdict, other: Verdict) -> None:
    assert worst([one, other]) is ORDER[min(ORDER.index(one), ORDER.index(other))]


def test_of_none_at_all_nothing_was_observed() -> None:
    assert worst([]) is Verdict.NOT_OBSERVED
    assert worst(iter(())) is Verdict.NOT_OBSERVED


@given(st.lists(st.sampled_from(Verdict), min_size=1))
def test_it_is_one_of_those_given(given_: list[Verdict]) -> None:
    assert worst(given_) in given_


@given(verdicts)
def test_pass_needs_every_one_to_pass_and_at_least_one(given_: list[Verdict]) -> None:
    assert (worst(given_) is Verdict.PASS) == (bool(given_) and set(given_) == {Verdict.PASS})


@given(verdicts)
def test_fail_needs_one_that_fails(given_: list[Verdict]) -> None:
    assert (worst(given_) is Verdict.FAIL) == (Verdict.FAIL in given_)


@given(verdicts, st.randoms(use_true_random=False))
def test_order_and_number_do_not_count(given_: list[Verdict], rng: object) -> None:
    mixed = [*given_, *given_]
    rng.shuffle(mixed)  # type: ignore[attr-defined]
    assert worst(mixed) is worst(given_)


@given(st.lists(st.sampled_from(Verdict), min_size=1), st.lists(st.sampled_from(Verdict), min_size=1))
def test_parts_may_be_combined_first(left: list[Verdict], right: list[Verdict]) -> None:
    assert worst([worst(left), worst(right)]) is worst([*left, *right])


@given(verdicts, st.sampled_from(Verdict))
def test_one_more_never_makes_it_better(given_: list[Verdict], more: Verdict) -> None:
    before, after = worst(given_ or [more]), worst([*given_, more])
    assert ORDER.index(after) <= ORDER.index(before)


@given(verdicts)
def test_only_a_pass_ends_with_zero(given_: list[Verdict]) -> None:
    assert (EXIT_CODE[worst(given_)] == 0) == (worst(given_) is Verdict.PASS)


def test_exit_codes_are_those_of_the_command_line() -> None:
    assert EXIT_CODE == {
        Verdict.PASS: 0,
        Verdict.FAIL: 1,
        Verdict.INCONCLUSIVE: 3,
        Verdict.NOT_OBSERVED: 3,
    }


@pytest.mark.parametrize("verdict", Verdict)
def test_a_verdict_is_neither_true_nor_false(verdict: Verdict) -> None:
    with pytest.raises(TypeError, match="compare it by name"):
        bool(verdict)
    with pytest.raises(TypeError):
        assert not verdict


@pytest.mark.parametrize("verdict", Verdict)
def test_a_verdict_is_its_text(verdict: Verdict) -> None:
    assert Verdict(verdict.value) is verdict
    assert f"{verdict}" == verdict.value
