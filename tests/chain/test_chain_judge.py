"""Verdicts over small chains made by hand: what fails, what is excused, what is never a pass."""

from itertools import pairwise

import pytest

from interlock.chain import ir
from interlock.chain.explore import explore
from interlock.chain.judge import Judged, judge
from interlock.chain.property import CanReach, Claim, NeverLasts, NeverStep, Premise, Property
from interlock.chain.watched import Watched, watch
from interlock.verdict import Verdict

MANY = 1000
MS = 1_000_000


def at(*places: str) -> ir.Term:
    return ir.Now("token", frozenset(places))


def board(*moves: str) -> ir.Chain:
    """A token moved by events such as `a>b` (an act) or `a~b 50` (late, by at most so many ms)."""
    places = list(dict.fromkeys(place for move in moves for place in (move[0], move[2])))
    return ir.Chain((ir.Field("token", tuple(places), places[0]),), (), tuple(event(move) for move in moves))


def event(move: str) -> ir.Event:
    steps = (ir.Step(frozenset({move[0]}), ir.TRUE, move[2]),)
    if move[1] == ">":
        return ir.Event("token", move, ir.EventKind.ACT, steps)
    return ir.Event("token", move, ir.EventKind.LATE, steps, int(move[3:]) * MS)


def rule(claim: Claim, *premises: ir.Term) -> Property:
    named = tuple(Premise("it occurs", premise) for premise in premises)
    return Property("rule", None, None, "title", "requirement", "invented", claim, named, "complaint")


def judged(chain: ir.Chain, one: Property, limit: int = MANY) -> Judged:
    return judge(explored(chain, limit), chain.events, one)


def explored(chain: ir.Chain, limit: int = MANY) -> Watched:
    return watch(chain, explore(chain, limit), (), limit)


ROW = board("a>b", "b>c", "c>d", "d>a")


def test_a_step_that_must_never_be_fails_by_the_shortest_way() -> None:
    found = judged(ROW, rule(NeverStep({"token": ir.all_of([ir.was(at("c")), at("d")])})))
    assert found.verdict is Verdict.FAIL
    assert found.way == (0, 1, 2)
    assert found.culprits == ("token",)


def test_of_two_violations_the_nearer_is_told() -> None:
    chain = board("a>b", "b>c", "c>x", "a>c")
    found = judged(chain, rule(NeverLasts({"token": at("x")}, None)))
    assert found.way is not None
    assert len(found.way) == 2


def test_all_culprits_of_the_moment_are_named_and_no_other() -> None:
    culprits = {"one": at("c"), "other": at("b", "c"), "third": at("d")}
    found = judged(
        ROW, rule(NeverStep({name: ir.all_of([ir.was(at("b")), term]) for name, term in culprits.items()}))
    )
    assert found.culprits == ("one", "other")


def test_a_bad_state_at_power_up_fails_without_any_step() -> None:
    assert judged(ROW, rule(NeverLasts({"token": at("a")}, None))).way == ()


def test_what_never_happens_passes() -> None:
    assert (
        judged(ROW, rule(NeverStep({"token": ir.all_of([ir.was(at("a")), at("c")])}))).verdict is Verdict.PASS
    )


def test_a_premise_that_does_not_occur_is_not_observed() -> None:
    never = ir.all_of([ir.was(at("a")), at("c")])
    found = judged(ROW, rule(NeverStep({"token": never}), at("b"), never))
    assert found.verdict is Verdict.NOT_OBSERVED
    assert found.premises == ((0,), None)


def test_a_violation_fails_even_if_a_premise_is_missing() -> None:
    never = ir.all_of([ir.was(at("a")), at("c")])
    assert judged(ROW, rule(NeverStep({"token": at("d")}), never)).verdict is Verdict.FAIL


class TestLasting:
    """`bad` may be left by late reactions alone, in time."""

    def test_nothing_leads_out(self) -> None:
        found = judged(board("a>b", "b>a"), rule(NeverLasts({"token": at("b")}, 100 * MS)))
        assert found.verdict is Verdict.FAIL
        assert not found.too_late

    def test_an_act_leads_out_but_nobody_need_do_it(self) -> None:
        assert judged(board("a>b", "b>c"), rule(NeverLasts({"token": at("b")}, 100 * MS))).way == (0,)

    def test_a_late_reaction_leads_out_in_time(self) -> None:
        assert (
            judged(board("a>b", "b~c 100"), rule(NeverLasts({"token": at("b")}, 100 * MS))).verdict
            is Verdict.PASS
        )

    def test_a_late_reaction_leads_out_too_late(self) -> None:
        found = judged(board("a>b", "b~c 101"), rule(NeverLasts({"token": at("b")}, 100 * MS)))
        assert found.verdict is Verdict.FAIL
        assert found.too_late

    def test_any_late_reaction_will_do_where_no_limit_is_set(self) -> None:
        assert (
            judged(board("a>b", "b~c 90000"), rule(NeverLasts({"token": at("b")}, None))).verdict
            is Verdict.PASS
        )

    def test_a_late_reaction_that_leads_from_bad_to_bad_excuses_nothing(self) -> None:
        chain = board("a>b", "b~x 10")
        assert judged(chain, rule(NeverLasts({"token": at("b", "x")}, None))).way == (0,)

    @pytest.mark.parametrize(("within_ms", "verdict"), [(20, Verdict.PASS), (19, Verdict.FAIL)])
    def test_two_late_reactions_in_a_row_add_up(self, within_ms: int, verdict: Verdict) -> None:
        chain = board("a>b", "b~x 10", "x~a 10")
        assert judged(chain, rule(NeverLasts({"token": at("b", "x")}, within_ms * MS))).verdict is verdict

    def test_late_reactions_in_a_circle_excuse_nothing(self) -> None:
        chain = board("a>b", "b~x 10", "x~b 10")
        assert judged(chain, rule(NeverLasts({"token": at("b", "x")}, None))).verdict is Verdict.FAIL

    def test_a_state_where_it_is_stuck_fails_though_its_neighbour_is_excused(self) -> None:
        chain = board("a>b", "b~a 10", "b>x")
        found = judged(chain, rule(NeverLasts({"token": at("b", "x")}, None)))
        assert found.way == (0, 2)


class TestReaching:
    """From every state that the claim speaks of, the events that it allows lead to the goal."""

    def test_a_ring_leads_everywhere(self) -> None:
        assert judged(ROW, rule(CanReach({"goal": at("c")}))).verdict is Verdict.PASS

    def test_a_dead_end_is_the_nearest_state_without_a_way(self) -> None:
        found = judged(board("a>b", "b>a", "b>x", "x>y"), rule(CanReach({"goal": at("a")})))
        assert found.verdict is Verdict.FAIL
        assert found.way == (0, 2)

    def test_a_goal_that_does_not_exist_is_lost_from_the_start(self) -> None:
        assert judged(ROW, rule(CanReach({"goal": ir.FALSE}))).way == ()

    def test_late_reactions_count_as_ways(self) -> None:
        assert judged(board("a>b", "b~a 10"), rule(CanReach({"goal": at("a")}))).verdict is Verdict.PASS

    def test_only_states_spoken_of_are_judged(self) -> None:
        chain = board("a>b", "b>a", "b>x")
        assert judged(chain, rule(CanReach({"goal": at("a")}, start=at("a", "b")))).verdict is Verdict.PASS
        assert judged(chain, rule(CanReach({"goal": at("a")}, start=at("x")))).verdict is Verdict.FAIL

    def test_only_events_allowed_lead_there(self) -> None:
        chain = board("a>b", "b>a", "b>c", "c>a")
        by = ir.By(frozenset({0, 2, 3}))
        assert judged(chain, rule(CanReach({"goal": at("a")}, by=by))).verdict is Verdict.PASS
        assert judged(chain, rule(CanReach({"goal": at("a")}, by=ir.By(frozenset({0, 1, 2}))))).way == (0, 2)


LONG = board(*(f"{one}>{other}" for one, other in pairwise("abcdefghij")))


class TestUnfinished:
    """A search that was cut short still finds failures, and never passes."""

    def test_no_violation_so_far_is_inconclusive(self) -> None:
        for claim in (
            NeverStep({"token": at("j")}),
            NeverLasts({"token": at("j")}, None),
            CanReach({"goal": at("a")}),
        ):
            assert judged(LONG, rule(claim), limit=3).verdict is Verdict.INCONCLUSIVE

    def test_a_violation_that_was_seen_fails(self) -> None:
        assert judged(LONG, rule(NeverStep({"token": at("b")})), limit=3).verdict is Verdict.FAIL
        assert judged(LONG, rule(NeverLasts({"token": at("b")}, None)), limit=3).verdict is Verdict.FAIL

    def test_a_missing_premise_is_inconclusive_not_unobserved(self) -> None:
        assert (
            judged(LONG, rule(NeverStep({"token": ir.FALSE}), at("j")), limit=3).verdict
            is Verdict.INCONCLUSIVE
        )

    def test_a_state_whose_late_reactions_were_not_looked_at_is_no_violation(self) -> None:
        chain = board("a>b", "b>c", "c>d", "d~a 10", "d>e", "e>f")
        cut = explored(chain, 3)
        assert not cut.expanded[cut.state == chain.fields[0].values.index("d")].any()
        assert (
            judge(cut, chain.events, rule(NeverLasts({"token": at("d")}, None))).verdict
            is Verdict.INCONCLUSIVE
        )
        assert judged(chain, rule(NeverLasts({"token": at("d")}, None))).verdict is Verdict.PASS

    def test_a_way_that_may_lead_on_out_of_sight_is_no_dead_end(self) -> None:
        assert judged(LONG, rule(CanReach({"goal": at("j")})), limit=3).verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize("limit", [1, 2, 5])
def test_more_search_never_turns_a_failure_into_anything_else(limit: int) -> None:
    one = rule(NeverLasts({"token": at("c")}, None))
    assert judged(LONG, one).verdict is Verdict.FAIL
    assert judged(LONG, one, limit).verdict in {Verdict.FAIL, Verdict.INCONCLUSIVE}
