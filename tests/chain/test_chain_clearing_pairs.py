"""A fault that goes away by itself while a lasting one is there: the sets, what is found, and how it is told.

That a fault's end must start nothing: ISO 13849-1:2015, 5.2.2 and 5.2.3, and ISO 14118 (unexpected start-up), clauses
from memory. The bench is invented: a fan motor behind two contactors that seal each other in.
"""

from collections import deque
from functools import cache
from io import StringIO

import jsonschema
import numpy as np
import pytest
from chain_fault_naive import FaultyWorld, every_fault
from chain_shapes import shape
from rich.console import Console

from interlock.bench import Bench
from interlock.chain import CheckResult, Cleared, Part, check, check_schema
from interlock.chain.clearing import judge_clearing
from interlock.chain.clearing_sets import GONE, STAYS, THERE, ComingAndGoing, beside, both
from interlock.cli.clearing_page import show_clearing
from interlock.verdict import Verdict

FAN = "line_motor_by_two_contactors"
STUCK, LOOSE = "q2.aux_stays_closed", "k1.out_b_stays_open"
State = tuple[str, ...]
Stage = tuple[str, bool]
"""Of the fault that goes: never, there, gone; whether the lasting one is there."""


@cache
def checked() -> CheckResult:
    return check(shape(FAN), faults=2)


def pairs() -> dict[tuple[str, str | None], Cleared]:
    clearing = checked().clearing
    assert clearing is not None
    assert clearing.beside is not None
    assert clearing.beside.whole
    return {(one.fault, one.beside): one for one in clearing.beside.found}


# The sets.


PAIRS = ComingAndGoing(beside(["x", "y"], ["y", "z"]))
BOTH = ComingAndGoing(both(["x", "y", "z"]))


def test_each_pair_has_a_set_while_the_fault_is_there_and_one_after_it_has_gone() -> None:
    assert PAIRS.each == [
        (),
        (("x", THERE),),
        (("y", THERE),),
        (("x", GONE),),
        (("y", GONE),),
        (("y", STAYS),),
        (("z", STAYS),),
        (("x", THERE), ("y", STAYS)),
        (("x", THERE), ("z", STAYS)),
        (("y", THERE), ("z", STAYS)),
        (("x", GONE), ("y", STAYS)),
        (("x", GONE), ("z", STAYS)),
        (("y", GONE), ("z", STAYS)),
    ]
    gone = PAIRS.number_of[("x", GONE), ("z", STAYS)]
    assert [PAIRS.faults[at] for at in PAIRS.sets[gone]] == ["z"]
    assert (("y", THERE), ("y", STAYS)) not in PAIRS.number_of


def test_any_two_come_and_go_in_any_order_and_the_same_one_twice() -> None:
    """Counted apart: no fault, 3 x 2 alone, 3 pairs x 4 phases, and for the same one there again and gone again."""
    assert len(BOTH.each) == len(set(BOTH.each)) == 1 + 3 * 2 + 3 * 4 + 3 * 2
    gone = BOTH.number_of[("x", GONE), ("y", GONE)]
    assert {BOTH.each[one] for one in BOTH.within(gone)} == {
        (("x", THERE), ("y", GONE)),
        (("x", GONE), ("y", THERE)),
    }
    again = BOTH.number_of[("x", GONE), ("x", THERE)]
    assert [BOTH.each[one] for one in BOTH.within(again)] == [(("x", GONE),)]
    assert BOTH.sets[gone] == ()
    assert [BOTH.faults[at] for at in BOTH.sets[again]] == ["x"]


@pytest.mark.parametrize("sets", [PAIRS, BOTH], ids=["beside a lasting one", "both go"])
def test_what_arises_from_a_set_is_what_it_is_within(sets: ComingAndGoing) -> None:
    for number, members in enumerate(sets.each):
        one = np.zeros((1, len(sets.each)), np.bool_)
        one[0, number] = True
        after = np.flatnonzero(sets.unpack(sets.one_more(sets.pack(one)))[0]).tolist()
        assert after == [other for other in range(len(sets.each)) if number in sets.within(other)]
        for other in after:
            now = sets.each[other]
            assert sum(phase == GONE for _, phase in now) >= sum(phase == GONE for _, phase in members)
            assert abs(len(sets.sets[other]) - len(sets.sets[number])) == 1  # one fault comes, or one goes
            assert number in sets.less(other)
        assert number not in sets.less(number)


@pytest.mark.parametrize("sets", [PAIRS, BOTH], ids=["beside a lasting one", "both go"])
def test_a_fault_is_present_in_the_sets_in_which_it_has_not_gone(sets: ComingAndGoing) -> None:
    held = sets.unpack(sets.having("y")[None, :])[0]
    assert held.tolist() == [
        any(one == ("y", phase) for one in members for phase in (THERE, STAYS)) for members in sets.each
    ]


# A second opinion: the pair in worlds of its own, walked state by state.


def starts_by_hand(bench: Bench, going: str, lasting: str, unit: str) -> set[Stage]:
    """The stages in which the unit's torque begins by a fault's coming or going, late, or by an act not meant to."""
    faults = every_fault(bench)
    worlds = {
        (stage, stays): FaultyWorld(
            bench, faults, frozenset(([going] if stage == "there" else []) + ([lasting] if stays else []))
        )
        for stage in ("never", "there", "gone")
        for stays in (False, True)
    }
    sound, torque = worlds["never", False], f"{unit}.torque"
    meant = {bench.required.reset.by, *(one.demand for one in bench.required.functions.values())}
    todo = deque((stage, worlds[stage].start) for stage in worlds if stage[0] != "gone")
    met, found = set(todo), set[Stage]()
    while todo:
        stage, state = todo.popleft()
        after: list[tuple[Stage, State, str | None]] = [
            (stage, move.after, None if move.delay_ns is not None else move.device)
            for move in worlds[stage].moves(state)
        ]
        after += [(one, worlds[one].settle(state), None) for one in following(stage)]
        for then, now, actor in after:
            shown = sound.values(now)
            begins = shown[torque] and not sound.values(state)[torque]
            if begins and not shown["go.pressed"] and (actor is None or actor in meant):
                found.add(then)
            if (then, now) not in met:
                met.add((then, now))
                todo.append((then, now))
    return found


def following(stage: Stage) -> list[Stage]:
    """One fault comes, or the one that may go goes."""
    name, stays = stage
    after = {"never": ["there"], "there": ["gone"], "gone": []}[name]
    return [*((one, stays) for one in after), *([] if stays else [(name, True)])]


@pytest.mark.parametrize(
    ("going", "lasting"),
    [
        (LOOSE, STUCK),
        ("k1.out_a_stays_open", "q1.aux_stays_closed"),
        ("k2.does_not_pick", "q1.aux_stays_closed"),
        (LOOSE, "k1.cross_short"),
    ],
)
def test_walked_by_hand_the_same_pairs_start_the_fan(going: str, lasting: str) -> None:
    by_hand = starts_by_hand(shape(FAN), going, lasting, "fan")
    less: set[Stage] = {("never", False), ("there", False), ("gone", False), ("never", True), ("there", True)}
    new = ("gone", True) in by_hand and by_hand.isdisjoint(less)
    found = pairs().get((going, lasting))
    assert (found is not None and "fan" in found.restarts) == new


# What is told.


def test_a_stuck_auxiliary_contact_lets_a_loose_output_start_the_fan() -> None:
    one = pairs()[LOOSE, STUCK]
    assert one.restarts == ("fan",)
    assert one.title.count(", WHILE ALSO ") == 1
    assert "Neither of the two faults does that alone." in one.sentence
    assert one.sentence.endswith(f"It takes {len(one.acts)} steps.")


@pytest.mark.parametrize("key", [(LOOSE, STUCK), ("k1.out_a_stays_open", "q1.aux_stays_closed")])
def test_the_moment_when_the_fault_goes_has_a_column_of_its_own(key: tuple[str, str]) -> None:
    one = pairs()[key]
    assert one.story.moments == len(one.acts) + 1
    words = [act.words for act in one.acts]
    [gone] = [at for at, said in enumerate(words, 1) if said == f"the fault goes away by itself: {one.words}"]
    [came] = [at for at, said in enumerate(words, 1) if said.endswith(one.words) and at != gone]
    came = 0 if words[came - 1].startswith("from power-up on") else came
    [signal] = [row for row in one.story.signals if row.words == f"{one.words}: there"]
    assert signal.part is Part.FAULT
    assert signal.high == tuple(came <= at < gone for at in range(one.story.moments))
    [stays] = [row for row in one.story.signals if row.words == f"{one.beside_words}: there"]
    assert stays.high == tuple(sorted(stays.high))  # it comes and never goes


def test_every_act_told_leaves_the_devices_as_the_story_says() -> None:
    bench = shape(FAN)
    for one in pairs().values():
        for course in one.story.courses:
            told = {act.after[course.device] for act in one.acts}
            assert len(told) <= len(set(course.states))
        assert set(one.acts[-1].after) == set(bench.devices)


def test_no_pair_is_told_whose_harm_one_fault_does_alone() -> None:
    clearing = checked().clearing
    assert clearing is not None
    alone = {(one.fault, unit) for one in clearing.found for unit in one.restarts}
    assert not alone & {(fault, unit) for (fault, _), one in pairs().items() for unit in one.restarts}


def test_pairs_inform_and_change_no_verdict() -> None:
    assert pairs()
    [rule] = [one for one in checked().properties if one.id == "clearing_never_starts"]
    assert rule.verdict is Verdict.PASS


def test_only_two_faults_at_a_time_ask_for_pairs() -> None:
    one = check(shape("diagnostic_feedback"), faults=1).clearing
    assert one is not None
    assert one.beside is None
    assert one.as_json()["beside"] is None


def test_a_fault_that_is_noticed_is_no_lasting_one() -> None:
    report = checked().report
    assert report is not None
    noticed = {one.set[0] for one in report.faults if len(one.set) == 1 and one.detected}
    assert noticed
    assert noticed.isdisjoint(beside for _, beside in pairs())


def test_without_unnoticed_faults_nothing_is_searched_and_that_is_said() -> None:
    clearing = judge_clearing(shape("single_contactor"), unnoticed=[])
    assert clearing.beside is not None
    assert clearing.beside.whole
    assert clearing.beside.sentence.startswith("No fault stays unnoticed")


def test_what_was_not_seen_whole_is_said_so() -> None:
    clearing = judge_clearing(shape(FAN), unnoticed=[STUCK], most_bytes=1000)
    assert clearing.beside is not None
    assert not clearing.beside.whole
    assert clearing.beside.sentence.startswith("Not verified: ")
    assert clearing.beside.found == ()


def test_the_result_follows_its_schema() -> None:
    document = checked().as_json()
    jsonschema.validate(document, check_schema())
    first = document["clearing"]["beside"]["found"][0]
    assert first["beside"] in first["story"]["signals"][0]["words"] or first["beside_words"]
    assert len(first["acts"]) + 1 == len(first["story"]["devices"][0]["states"])


def test_the_text_tells_acts_and_picture() -> None:
    clearing = checked().clearing
    assert clearing is not None
    show_clearing(Console(file=(out := StringIO()), width=120), clearing, every=False)
    text = out.getvalue()
    assert "Faults that go away by themselves while another one stays" in text
    assert "This informs and changes no verdict" in text
    gone = {one.words for one in pairs().values() if one.restarts}
    assert all(f"the fault goes away by itself: {words}" in text for words in gone)
    assert text.count("Timing, one column an act") >= len(pairs())


def test_the_text_says_that_nothing_was_found() -> None:
    clearing = judge_clearing(shape("single_contactor"), unnoticed=["k1.cross_short"])
    show_clearing(Console(file=(out := StringIO()), width=120), clearing, every=False)
    assert "No such pair does harm that neither of its two faults does alone." in out.getvalue()
