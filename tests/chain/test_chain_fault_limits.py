"""A bench too big for its search under faults: what was proved is told, the rest is not verified, nothing more passes.

The benches are invented. That absent evidence never passes is the rule of this project, not of a standard.
"""

from io import StringIO

import pytest
from chain_fault_benches import sample_with, small
from rich.console import Console

from interlock.bench import Bench
from interlock.chain import FaultReport, check, fault_table, spread
from interlock.chain.fault_check import judge_faults
from interlock.chain.fault_property import fault_properties
from interlock.chain.spread import OutOfRoom
from interlock.cli.fault_page import show_faults
from interlock.verdict import Verdict

TOLERANT = {
    "required": {"functions": {"cover_stop": {"single_fault_tolerant": True, "accumulation_tolerant": True}}}
}


def work(bench: Bench, most: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """How much the searches of sets of so many faults do over the same steps at the most."""
    done, counted = list[int](), spread.Spread._work

    def note(self: spread.Spread, states: int) -> None:
        counted(self, states)
        done.append(self.steps.work)

    monkeypatch.setattr(spread.Spread, "_work", note)
    assert judge_faults(bench, most).search.whole
    monkeypatch.undo()
    return max(done)


@pytest.fixture
def bench() -> Bench:
    return small()


@pytest.fixture
def cut(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> FaultReport:
    """Pairs asked for, with just enough work allowed for single faults."""
    monkeypatch.setattr(spread, "_MOST_WORK", work(bench, 1, monkeypatch))
    return judge_faults(bench, 2)


def test_single_faults_are_proved_where_pairs_are_too_many(bench: Bench, cut: FaultReport) -> None:
    single = judge_faults(bench, 1)
    assert (cut.search.most, cut.search.proved, cut.search.whole) == (2, 1, False)
    assert [one for one in cut.faults if len(one.set) == 1] == list(single.faults)
    assert all(not one.verified for one in cut.faults if len(one.set) > 1)


def test_it_says_how_far_it_came_and_what_it_did_prove(cut: FaultReport) -> None:
    said = cut.search.sentence
    assert said.startswith("Up to one fault at a time. All was searched: ")
    assert "Up to 2 faults at a time. Not verified: the search is given up beyond " in said
    assert (
        f"in all {cut.search.sets:,} sets of up to 2, {cut.search.states:,} situations were seen so far"
        in said
    )
    assert said.endswith("Sets of more than one fault are told only as far as they were met.")


def test_a_pair_that_was_met_is_lost_in_truth_and_nobody_says_that_it_stays_unnoticed(
    bench: Bench, cut: FaultReport
) -> None:
    whole = {one.set: one for one in judge_faults(bench, 2).faults}
    for one in cut.faults:
        if len(one.set) > 1:
            assert set(one.effects) <= set(whole[one.set].effects)
            assert one.unnoticed == ()
            assert not one.detected
            assert "is not verified" in one.sentence
            assert "without being noticed" not in one.sentence


def test_the_same_limit_gives_the_same_answer(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spread, "_MOST_WORK", 1 << 12)
    assert judge_faults(bench, 2) == judge_faults(bench, 2)


@pytest.mark.parametrize("allowed", [0, 1 << 8, 1 << 10, 1 << 12])
def test_a_search_cut_short_never_passes_what_a_whole_one_does_not(
    allowed: int, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    tolerant = sample_with(TOLERANT) if allowed == 0 else bench
    whole = {one.set: one for one in judge_faults(bench, 2).faults}
    monkeypatch.setattr(spread, "_MOST_WORK", allowed)
    report = judge_faults(tolerant, 2)
    assert not report.search.whole
    if report.search.proved == 0:
        assert all(one.verdict is not Verdict.PASS for one in fault_properties(tolerant, report))
        assert all(not {"3", "4"} & set(one.categories) for one in report.categories)
    for one in report.faults:
        if tolerant is bench and one.verified:
            assert one.effects == whole[one.set].effects
    assert all("4" not in one.categories for one in report.categories)


def test_what_needs_single_faults_alone_is_judged_and_what_needs_pairs_is_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bench = sample_with(TOLERANT)
    whole = {one.id: one.verdict for one in fault_properties(bench, judge_faults(bench, 1))}
    monkeypatch.setattr(spread, "_MOST_WORK", work(bench, 1, monkeypatch))
    report = judge_faults(bench, 2)
    assert report.search.proved == 1
    found = {one.id: one.verdict for one in fault_properties(bench, report)}
    assert found["single_fault_tolerant"] is whole["single_fault_tolerant"]
    assert found["accumulation_tolerant"] is not Verdict.PASS


def test_the_whole_check_says_it_and_is_inconclusive(monkeypatch: pytest.MonkeyPatch, bench: Bench) -> None:
    assert check(bench, faults=1).report.search.whole
    monkeypatch.setattr(spread, "_MOST_WORK", 0)
    told = check(bench, faults=1)
    assert not told.report.search.whole
    assert told.clearing is not None
    assert not told.clearing.whole
    assert "the search is given up beyond 0 states" in told.clearing.sentence


def test_where_only_what_is_noticed_is_too_much_the_losses_are_proved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def short(*_: object) -> None:
        raise OutOfRoom("the search is given up beyond 3 states")

    bench = sample_with(TOLERANT)
    whole = judge_faults(bench, 2)
    monkeypatch.setattr(fault_table, "reveal", short)
    report = judge_faults(bench, 2)
    assert (report.search.whole, report.search.proved) == (False, 2)
    assert (
        "Whether faults are noticed is not verified: the search is given up beyond 3 states."
        in report.search.sentence
    )
    for one, other in zip(whole.faults, report.faults, strict=True):
        assert (other.set, other.effects, other.acts, other.verified) == (
            one.set,
            one.effects,
            one.acts,
            one.verified,
        )
        assert not other.detected
        assert other.unnoticed == ()
        assert not other.judged_noticed or "Nothing on this bench" in other.sentence
    assert not any("4" in one.categories for one in report.categories)
    found = {one.id: one.verdict for one in fault_properties(bench, report)}
    assert (
        found["single_fault_tolerant"]
        is {one.id: one.verdict for one in fault_properties(bench, whole)}["single_fault_tolerant"]
    )
    assert found["accumulation_tolerant"] is not Verdict.PASS


def test_the_page_never_says_of_what_was_not_judged_that_it_stays_unnoticed(cut: FaultReport) -> None:
    show_faults(Console(file=(out := StringIO()), width=250), cut, every=True)
    shown = out.getvalue()
    assert "Whether one is noticed before the next is not verified:" in shown
    assert "They can add up unnoticed:" not in shown
    assert "One is noticed before the next:" not in shown
