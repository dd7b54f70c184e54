"""Verdicts over small boards whose limit counts from a demand; and laws that hold for every rule of every right bench.

A token is moved by events such as `a>b` (an act) or `a~b 50` (late, by at most so many ms). Capitals are the demand.
"""

from functools import cache

import numpy as np
import pytest
from chain_benches import sample
from chain_shapes import SHAPES
from hypothesis import given, settings
from hypothesis import strategies as st
from test_chain_judge import MS, board, event, explored, judged, rule

from interlock.bench import load_bench
from interlock.chain import ir
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench
from interlock.chain.judge import Judged, judge
from interlock.chain.property import NeverLasts
from interlock.chain.requirement import Requirement
from interlock.chain.views import Views
from interlock.verdict import Verdict

MANY = 100_000
NAMES = sorted(path.stem for path in SHAPES.glob("*.yaml") if path.stem not in {"expected", "two_zones"})


def at(*places: str) -> ir.Term:
    return ir.Now("token", frozenset(places))


def moved(*moves: str) -> ir.Chain:
    """The board with all its places; a late move may have a delay of several digits."""
    names = [move.split(" ")[0] for move in moves]
    places = list(dict.fromkeys(place for name in names for place in (name[0], name[2])))
    field = ir.Field("token", tuple(places), places[0])
    return ir.Chain((field,), (), tuple(event(move) for move in moves))


def lasting(
    within_ms: int, bad: str, *moves: str, during: str | None = None, begins: ir.Term = ir.FALSE
) -> Judged:
    chain = moved(*moves)
    places = chain.fields[0].values
    demand = [one for one in places if one.isupper()] if during is None else list(during)
    claim = NeverLasts({"token": at(*bad)}, within_ms * MS, at(*demand), begins)
    return judged(chain, rule(claim))


BACK = ("a>B", "B~C 60", "C~D 20", "D~E 20", "E>a")
"""A demand B that takes 60 ms; then all is well in C, until D, which lasts 20 ms, brings the bad state back."""


@pytest.mark.parametrize(("within", "verdict"), [(100, Verdict.PASS), (99, Verdict.FAIL), (80, Verdict.FAIL)])
def test_what_comes_back_counts_from_the_demand(within: int, verdict: Verdict) -> None:
    assert lasting(within, "BD", *BACK).verdict is verdict


def test_counted_from_itself_alone_it_would_pass() -> None:
    chain = moved(*BACK)
    alone = judged(chain, rule(NeverLasts({"token": at("B", "D")}, 60 * MS)))
    assert alone.verdict is Verdict.PASS
    assert lasting(60, "BD", *BACK).verdict is Verdict.FAIL


def test_the_way_leads_over_the_beginning_of_the_demand_to_where_it_is_too_late() -> None:
    found = lasting(99, "BD", *BACK)
    assert found.way == (0, 1, 2)
    assert found.again
    assert found.culprits == ("token",)


def test_what_never_was_in_order_is_not_said_to_come_again() -> None:
    found = lasting(99, "BCD", *BACK)
    assert found.verdict is Verdict.FAIL
    assert not found.again


def test_a_new_demand_has_its_own_time() -> None:
    """Out of the demand by way of `a`, and in again: each time 60 ms are enough."""
    assert lasting(60, "B", "a>B", "B~C 60", "C>a").verdict is Verdict.PASS


def test_an_act_within_the_demand_may_come_at_any_time() -> None:
    """In C nothing is due, so a person may wait there for ever before going on to D, however short D is."""
    assert lasting(500, "D", "a>B", "B~C 10", "C>D", "D~E 1").verdict is Verdict.FAIL


def test_an_act_while_something_is_due_comes_before_that() -> None:
    """From B to C by an act, while the reaction of B runs on: it must come within its 60 ms all the same."""
    chain = ir.Chain(
        (ir.Field("token", ("a", "B", "C", "D"), "a"),),
        (),
        (
            event("a>B"),
            event("B>C"),
            ir.Event("token", "soon", ir.EventKind.LATE, (ir.Step(frozenset("BC"), ir.TRUE, "D"),), 60 * MS),
        ),
    )
    claim = NeverLasts({"token": at("B", "C")}, 60 * MS, at("B", "C", "D"))
    assert judged(chain, rule(claim)).verdict is Verdict.PASS


def test_an_event_may_let_the_time_begin_anew() -> None:
    moves = ("a>B", "B~C 60", "C>D", "D~E 60")
    assert lasting(60, "BD", *moves).verdict is Verdict.FAIL
    assert lasting(60, "BD", *moves, begins=ir.By(frozenset({2}))).verdict is Verdict.PASS


def test_a_demand_at_power_up_counts_from_there() -> None:
    moves = ("A~B 60", "B~C 30", "C~D 10")
    assert lasting(100, "AC", *moves).verdict is Verdict.PASS
    found = lasting(99, "AC", *moves)
    assert found.verdict is Verdict.FAIL
    assert found.way == (0, 1)


def test_a_reaction_slower_than_the_limit_says_nothing_of_when() -> None:
    assert lasting(100, "C", "a>B", "B~C 101", "C~D 1").verdict is Verdict.FAIL
    assert lasting(102, "C", "a>B", "B~C 101", "C~D 1").verdict is Verdict.PASS


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 50), min_size=2, max_size=5), st.integers(0, 4), st.integers(-2, 2))
def test_in_a_row_the_sum_up_to_the_last_bad_place_decides(delays: list[int], last: int, off: int) -> None:
    """B C D ... one after the other; the bad place is one of them, and must be over by the limit."""
    last = min(last, len(delays) - 1)
    places = "BCDEFG"
    moves = [f"{places[n]}~{places[n + 1]} {delay}" for n, delay in enumerate(delays)]
    total = sum(delays[: last + 1])
    found = lasting(total + off, places[last], "a>B", *moves)
    assert (found.verdict is Verdict.PASS) == (off >= 0)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 120))
def test_a_longer_limit_never_turns_a_pass_into_a_failure(within: int) -> None:
    if lasting(within, "BD", *BACK).verdict is Verdict.PASS:
        assert lasting(within + 1, "BD", *BACK).verdict is Verdict.PASS


def test_a_search_that_ended_early_never_passes_what_comes_back() -> None:
    chain = moved(*BACK)
    one = rule(NeverLasts({"token": at("B", "D")}, 99 * MS, at("B", "C", "D", "E")))
    for limit in range(1, 6):
        found = judge(explored(chain, limit), chain.events, one)
        assert found.verdict in {Verdict.FAIL, Verdict.INCONCLUSIVE}


def test_the_board_of_the_other_tests_is_the_same() -> None:
    assert moved("a>b", "b~c 5") == board("a>b", "b~c 5")


# Laws of every rule.


@cache
def needs(name: str) -> Requirement:
    bench = sample() if name == "sample" else load_bench(SHAPES / f"{name}.yaml")
    return Requirement(bench, compile_bench(bench))


@pytest.mark.parametrize("name", ["sample", *NAMES])
def test_what_must_not_last_is_bad_only_while_its_time_runs(name: str) -> None:
    """Else its time would count from nowhere."""
    views = Views(needs(name), MANY)
    for one in properties(needs(name)):
        if isinstance(one.claim, NeverLasts) and one.claim.during is not None:
            nodes = views.of(one.terms())
            during = nodes.nodes_where(one.claim.during)
            for culprit in one.claim.culprits.values():
                assert not np.any(nodes.nodes_where(culprit) & ~during), one.title


@pytest.mark.parametrize("name", ["sample", *NAMES])
def test_every_rule_with_a_limit_says_from_when_it_counts(name: str) -> None:
    for one in properties(needs(name)):
        if isinstance(one.claim, NeverLasts) and one.claim.within_ns is not None:
            assert one.claim.during is not None, one.title


@pytest.mark.parametrize("name", ["sample", *NAMES])
def test_no_demand_of_a_rule_goes_on_for_ever(name: str) -> None:
    """Its time would run from power-up on, whatever people do."""
    views = Views(needs(name), MANY)
    for one in properties(needs(name)):
        if isinstance(one.claim, NeverLasts) and one.claim.during is not None:
            assert not views.of(one.terms()).nodes_where(one.claim.during).all(), one.title
