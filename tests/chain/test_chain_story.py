"""Stories of counterexamples against a second opinion: states by the acts, signals by books kept apart."""

from functools import cache

import pytest
from chain_benches import EXPECTED, UNDER_FAULT, checked, wrong
from chain_naive import Books, Judge, World

from interlock.bench import kinds_of
from interlock.chain import FaultResult, Part, PropertyResult, Signal, Story, check
from interlock.chain.ir import Const, EventKind, Now
from interlock.chain.story import Candidate, Course, story_of

SOUND = ["02_brake_sto_not_wired", "17_motor_resumes_with_supply", "18_contactor_slower_than_the_hand"]
SOUND += ["19_held_reset_accepted", "24_reset_cancels_the_ramp", "16_disagreement_not_watched"]
SOUND = [f"{name}.yaml" for name in SOUND]
FAULTY = [
    "52_tapped_halt_and_a_dead_input.yaml",
    "44_halt_by_controller.yaml",
    "58_short_between_the_channels.yaml",
]


@cache
def under_fault(name: str) -> tuple[FaultResult, ...]:
    report = check(wrong(name)).report
    assert report is not None
    return tuple(one for one in report.faults if one.story is not None)


def failures(name: str) -> list[tuple[PropertyResult, Story]]:
    return [(one, one.story) for one in checked(name).properties if one.story is not None]


def rows(story: Story, part: Part) -> dict[str, tuple[bool, ...]]:
    return {one.words: one.high for one in story.signals if one.part is part}


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_each_failure_has_a_column_for_power_up_and_one_for_each_act(name: str) -> None:
    for one in checked(name).properties:
        assert (one.story is None) is (one.verdict.value != "fail")
    for one, story in failures(name):
        assert story.moments == 1 + len(one.acts)
        assert {len(row.high) for row in story.signals} == {story.moments}
        assert {len(row.states) for row in story.courses} == {story.moments}


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_every_device_is_in_the_state_that_the_acts_lead_to(name: str) -> None:
    bench = wrong(name)
    kinds = {device: kinds_of(bench)[bench.devices[device].kind] for device in bench.devices}
    for one, story in failures(name):
        states = [dict(zip(bench.devices, World(bench).start, strict=True)), *(act.after for act in one.acts)]
        told = {row.device: row.states for row in story.courses}
        assert set(told) == {device for device, kind in kinds.items() if len(kind.states) > 1}
        for device, words in told.items():
            assert list(words) == [kinds[device].states[state[device]] for state in states]


@pytest.mark.parametrize("name", SOUND)
def test_signals_agree_with_books_kept_apart(name: str) -> None:
    bench = wrong(name)
    judge = Judge(World(bench))
    for one, story in failures(name):
        states = [
            World(bench).start,
            *(tuple(act.after[device] for device in bench.devices) for act in one.acts),
        ]
        books, noted, was = Books(), [], states[0]
        for state in states:
            books = judge.note(was, books, state)
            noted.append(books)
            was = state
        demands, memories = rows(story, Part.DEMAND), rows(story, Part.MEMORY)
        buttons, effects = rows(story, Part.BUTTON), rows(story, Part.EFFECT)
        for function, what in bench.required.functions.items():
            called = bench.devices[what.demand].name
            present = tuple(function in judge.demands(state) for state in states)
            assert demands.get(f"{called} demands the stop", (False,) * len(states)) == present
            unreset = tuple(function in book.unreset for book in noted)
            assert memories.get(f"stop by {called} not reset yet", (False,) * len(states)) == unreset
        for unit in judge.units:
            called = bench.devices[unit].name
            assert effects.get(f"{called} makes torque", (False,) * len(states)) == tuple(
                judge.torque(state, unit) for state in states
            )
        pressed = f"{bench.devices[bench.required.reset.by].name} pressed"
        assert buttons.get(pressed, (False,) * len(states)) == tuple(judge.pressed(one) for one in states)


def shown(name: str, id_: str) -> Story:
    return next(story for one, story in failures(name) if one.id == id_)


def test_the_last_column_shows_what_is_forbidden() -> None:
    off = shown("02_brake_sto_not_wired.yaml", "torque_off")
    assert rows(off, Part.DEMAND)["guard hood demands the stop"][-1]
    assert rows(off, Part.EFFECT)["brake motor makes torque"][-1]
    closed = shown("18_contactor_slower_than_the_hand.yaml", "supply_stays_off")
    assert rows(closed, Part.EFFECT)["line contactor is closed"][-1]
    assert not rows(closed, Part.DEMAND)["emergency-off button demands the stop"][-1]
    assert rows(closed, Part.MEMORY)["power button not pressed anew"][-1]


def test_a_late_reaction_is_under_way_while_the_hand_is_faster() -> None:
    story = shown("18_contactor_slower_than_the_hand.yaml", "supply_stays_off")
    slow = rows(story, Part.DELAY)["line contactor: drop out under way"]
    assert slow == (False, False, False, True, True, False)


def test_the_inputs_of_the_judged_unit_are_shown_even_if_they_never_change() -> None:
    story = shown("03_one_sto_input_bridged.yaml", "torque_off_inputs")
    inputs = rows(story, Part.INPUT)
    assert inputs == {
        "brake motor: input sto_a on": (False, False),
        "brake motor: input sto_b on": (True, True),
    }


def test_a_bench_that_never_works_has_one_column() -> None:
    story = shown("12_feedback_from_wrong_contact.yaml", "recovers")
    assert story.moments == 1
    assert not any(any(high) for high in rows(story, Part.EFFECT).values())


@pytest.mark.parametrize("name", SOUND)
def test_what_matters_comes_first_and_the_rest_changes(name: str) -> None:
    order = list(Part)
    for _, story in failures(name):
        parts = [order.index(one.part) for one in story.signals]
        assert parts == sorted(parts)
        for one in story.signals:
            assert one.part not in {Part.OTHER, Part.DELAY} or len(set(one.high)) == 2
        assert not rows(story, Part.FAULT)


@pytest.mark.parametrize("name", FAULTY)
def test_a_fault_is_shown_from_the_act_on_that_brings_it(name: str) -> None:
    for one in under_fault(name):
        assert one.story is not None
        assert one.story.moments == 1 + len(one.acts)
        faults = rows(one.story, Part.FAULT)
        assert set(faults) == set(one.words)
        for words, high in faults.items():
            [at] = [
                at for at, act in enumerate(one.acts, 1) if act.kind is EventKind.FAULT and words in act.words
            ]
            there = 0 if one.acts[at - 1].words.startswith("from power-up on") else at
            assert high == tuple(column >= there for column in range(len(high)))


def test_a_contact_that_a_fault_holds_is_shown_although_nothing_moves_it() -> None:
    [stuck] = [
        one
        for one in under_fault("58_short_between_the_channels.yaml")
        if one.set == ("halt.a_stays_closed", "k1.cross_short")
    ]
    assert stuck.story is not None
    assert rows(stuck.story, Part.OTHER)["halt button: a"] == (True,) * stuck.story.moments
    assert rows(stuck.story, Part.DEMAND)["halt button demands the stop"][-1]
    assert rows(stuck.story, Part.WIRE)["guard relay: what reaches channel_b"][
        -1
    ]  # by the short, not by the contact


def test_the_example_of_a_requirement_is_about_its_own_function() -> None:
    for name in UNDER_FAULT:
        if name.startswith(("33", "57")):
            for one in check(wrong(name)).properties:
                if one.id.endswith("tolerant") and one.story is not None and one.function is not None:
                    demand = wrong(name).required.functions[one.function].demand
                    words = f"{wrong(name).devices[demand].name} demands the stop"
                    assert rows(one.story, Part.DEMAND)[words][-1]


HALT = {"a": "off"}, {"a": "on"}, {"a": "on"}


def on(*values: str) -> Now:
    return Now("a", frozenset(values))


@pytest.mark.parametrize(
    ("candidate", "spoken_of", "expected"),
    [
        (Candidate(Part.EFFECT, "d", "x", on("on")), set(), True),  # it changes
        (Candidate(Part.EFFECT, "d", "x", on("off", "on")), set(), False),
        (Candidate(Part.EFFECT, "d", "x", on("off", "on")), {"d"}, True),  # the requirement speaks of it
        (Candidate(Part.MEMORY, "d", "x", on("off", "on")), {"d"}, False),
        (Candidate(Part.MEMORY, "d", "x", on("off", "on")), {"a"}, True),
        (Candidate(Part.OTHER, "d", "x", on("off", "on")), {"d", "a"}, False),
        (Candidate(Part.OTHER, "d", "x", Const(True), on("on")), set(), True),  # a fault holds it
        (Candidate(Part.WIRE, "d", "x", on("on"), on("on")), set(), False),
        (Candidate(Part.WIRE, "d", "x", Const(True), on("on")), set(), True),
        (Candidate(Part.FAULT, "d", "x", Const(False)), set(), True),
        (Candidate(Part.DELAY, "d", "x", Const(False)), {"d"}, False),
        (Candidate(Part.EFFECT, "d", "x", Now("unknown", frozenset())), {"d"}, False),  # not remembered
    ],
)
def test_which_signals_matter(candidate: Candidate, spoken_of: set[str], expected: bool) -> None:
    story = story_of(
        wrong("01_latch_not_sealed.yaml").model_copy(update={"devices": {}}),
        HALT,
        [candidate],
        frozenset(spoken_of),
    )
    assert bool(story.signals) is expected


def test_an_output_that_goes_along_with_a_shown_one_is_left_out() -> None:
    bench = wrong("01_latch_not_sealed.yaml").model_copy(update={"devices": {}})
    effect = Candidate(Part.EFFECT, "d", "x", on("on"))
    same, against = Candidate(Part.OTHER, "d", "y", on("on")), Candidate(Part.OTHER, "d", "z", on("off"))
    elsewhere = Candidate(Part.OTHER, "e", "w", on("off"))
    story = story_of(bench, HALT, [effect, same, against, elsewhere], frozenset())
    assert [one.words for one in story.signals] == ["x", "w"]


def test_stretches_join_what_does_not_change() -> None:
    course = Course("d", "door", ("shut", "shut", "open", "shut", "shut"))
    assert course.stretches == ((0, "shut"), (2, "open"), (3, "shut"))
    assert course.moves
    assert not Course("d", "door", ("shut",)).moves


def test_a_story_says_all_of_itself_as_data() -> None:
    story = Story((Course("d", "door", ("shut", "open")),), (Signal(Part.DEMAND, "demands", (False, True)),))
    assert story.as_json() == {
        "devices": [{"device": "d", "name": "door", "states": ["shut", "open"]}],
        "signals": [{"part": "demand", "words": "demands", "high": [False, True]}],
    }
