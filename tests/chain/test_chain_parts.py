"""Parts of a bench searched apart: they find what the search of the whole bench finds, and what they tell is so.

The oracles are the search of the whole bench and the plain interpreter; `test_chain_fault_zones_brute_force` holds
benches with two zones to a second opinion that knows neither. The benches are invented.
"""

from collections.abc import Callable, Mapping, Sequence

import pytest
from chain_benches import wrong
from chain_shapes import shape
from chain_zoned_benches import ramp_benches, zoned_benches
from hypothesis import HealthCheck, assume, given, settings

from interlock.bench import Bench
from interlock.chain import clearing, ir, reference
from interlock.chain.bent import ABSENT, PRESENT, Faulty, compile_faulty
from interlock.chain.clearing_sets import ComingAndGoing, beside, both
from interlock.chain.fault_list import considered
from interlock.chain.fault_sets import FaultSets
from interlock.chain.fault_table import Explored, explore_faults
from interlock.chain.hunt import MOST_BYTES, Found
from interlock.chain.losses import Loss, fault_observers
from interlock.chain.missteps import watched_terms
from interlock.chain.parts import Part, _by_own, _where_nothing_changes, parts
from interlock.chain.sight import NOBODY
from interlock.chain.trail import Stage

SLOW = [HealthCheck.filter_too_much, HealthCheck.too_slow]
ZONES = "one_reset_for_two_zones"
BENCHES: Mapping[str, Callable[[], Bench]] = {
    "two zones": lambda: shape(ZONES),
    "ramp of one unit": lambda: shape("stop_category_1"),
    "two supplies": lambda: shape("emergency_stop_of_each_drive"),
    "references apart": lambda: wrong("07_set_points_kept.yaml"),
}


def whole(faulty: Faulty) -> Sequence[Part]:
    return parts(faulty, float("inf"))


def apart(faulty: Faulty) -> Sequence[Part]:
    return parts(faulty, 0)


def compiled(bench: Bench) -> Faulty:
    return compile_faulty(bench, considered(bench))


def searched(bench: Bench, most: int, split: Callable[[Faulty], Sequence[Part]]) -> Explored:
    return explore_faults(compiled(bench), most, MOST_BYTES, split)


def steps(explored: Explored) -> dict[object, tuple[bool, int]]:
    """By what is lost, started or broken and by the set: after how many steps, and whether only for a moment."""
    every = (explored.lost, explored.restarted, explored.broken)
    return {
        (what, number): (one.brief, one.steps)
        for kind in every
        for what, where in kind.items()
        for number, one in where.items()
        if not explored.restless[number]
    }


def same(bench: Bench, most: int) -> None:
    one, other = searched(bench, most, whole), searched(bench, most, apart)
    assert one.shortfall == other.shortfall == ""
    assert one.restless.tolist() == other.restless.tolist()
    expected, found = steps(one), steps(other)
    assert found.keys() == expected.keys()
    for what, (brief, many) in expected.items():
        assert found[what][0] == brief
        # a late reaction of a device that has nothing to do with it need not come before
        assert found[what][1] == many or (brief and found[what][1] < many)
    assert other.revealed == one.revealed
    replayed(other)


def replayed(explored: Explored) -> None:
    """Every way that is told is one of the plain interpreter, and ends with what was sought."""
    kinds = (explored.lost, explored.broken)
    every = [one for kind in kinds for where in kind.values() for one in where.values()]
    some = every[:: max(1, len(every) // 60)]
    for found, way in explored.search.ways(some).items():
        walked(explored, found, way)


def walked(explored: Explored, found: Found, way: Sequence[Stage]) -> None:
    ground, chain = explored.ground, explored.ground.faulty.chain
    memory = fault_observers(ground.faulty.person, watched_terms(ground.faulty))
    blank = {one.field.name: one.field.start for one in memory}
    was: reference.State = {}
    now: reference.State = {}
    if explored.search.in_parts:
        assert way[-1].set == found.under
    for stage in way:
        there = {explored.faults[at].field for at in explored.sets.sets[stage.set]}
        faults = {one.field: PRESENT if one.field in there else ABSENT for one in explored.faults}
        if not now:
            start = reference.settle(chain, {one.name: one.start for one in chain.fields} | faults)
            was, now = start, reference.watch(memory, {**start, **blank}, start, None)
        elif stage.event == NOBODY:
            was, now = (
                now,
                reference.watch(memory, now, reference.settle(chain, devices(chain, now) | faults), None),
            )
        else:
            event = chain.events[stage.event]
            step = reference.step_taken(event, now)
            assert step is not None
            after = reference.settle(chain, {**devices(chain, now), event.device: step.to})
            was, now = now, reference.watch(memory, now, after, stage.event)
        assert ground.layout.unpack(stage.word) == {name: now[name] for name in ground.layout.places}
    what, last = explored.search.sought(found), way[-1].event
    term = what.term if isinstance(what, Loss) else what.event
    if isinstance(what, Loss) or what.begins is None:
        assert reference.holds(term, was, now, last)


def devices(chain: ir.Chain, state: reference.State) -> reference.State:
    return {one.name: state[one.name] for one in chain.fields}


@pytest.mark.parametrize(
    ("name", "most"),
    [("two zones", 2), ("ramp of one unit", 1), ("two supplies", 1), ("references apart", 2)],
)
def test_parts_find_what_the_whole_bench_shows(name: str, most: int) -> None:
    bench = BENCHES[name]()
    assert len(apart(compiled(bench))) > 1
    same(bench, most)


@settings(max_examples=4, deadline=None, suppress_health_check=SLOW)
@given(zoned_benches())
def test_random_zones(bench: Bench) -> None:
    assume(len(apart(compiled(bench))) > 1)
    same(bench, 2)


@settings(max_examples=3, deadline=None, suppress_health_check=SLOW)
@given(ramp_benches())
def test_random_benches_that_brake(bench: Bench) -> None:
    same(bench, 1)


def test_what_comes_and_goes_is_found_in_parts_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = shape(ZONES)
    unnoticed = [one.id for one in considered(bench)][::4]
    told = []
    for split in (whole, apart):
        monkeypatch.setattr(clearing, "parts", split)
        one = clearing.judge_clearing(bench, unnoticed=unnoticed)
        assert one.beside is not None
        assert one.both is not None
        every = (one, one.beside, one.both)
        told.append(
            [[(each.title, each.sentence, each.lost, each.restarts) for each in of.found] for of in every]
        )
    assert told[0] == told[1]
    assert told[0][0]


# What a part is.


@pytest.mark.parametrize("name", BENCHES)
def test_a_part_has_all_that_it_depends_on_and_each_thing_is_sought_once(name: str) -> None:
    faulty = compiled(BENCHES[name]())
    [one], found = whole(faulty), apart(faulty)
    assert [
        what for what in one.order if what in {each for part in found for each in (*part.sought, *part.wrong)}
    ] == [*one.order]
    assert sum(len(part.sought) + len(part.wrong) for part in found) == len(one.order)
    for part in found:
        there = {field.name for field in part.faulty.chain.fields} | {
            each.field.name for each in part.observers
        }
        terms = [each.term for each in part.sought] + [each.event for each in part.wrong]
        terms += [term for each in part.observers for term, _ in each.updates]
        machines = (*part.faulty.chain.reactions, *part.faulty.chain.events)
        terms += [step.guard for each in machines for step in each.steps]
        assert {
            atom.field for term in terms for atom in ir.atoms(term) if not isinstance(atom, ir.By)
        } <= there
        assert len(part.faulty.chain.events) == len(faulty.chain.events)
        assert {each.field for each in part.faulty.faults} <= there


def test_zones_are_split_and_a_bench_with_one_zone_is_not() -> None:
    assert len(parts(compiled(shape(ZONES)))) == 2
    assert len(parts(compiled(shape("single_contactor")))) == 1
    assert len(parts(compiled(shape("stop_category_1")))) == 1  # the parts would be hardly smaller


OPEN, SHUT = ir.Now("door", frozenset({"open"})), ir.Now("door", frozenset({"shut"}))


@pytest.mark.parametrize(
    ("term", "expected"),
    [
        (OPEN, OPEN),
        (ir.was(OPEN), OPEN),
        (ir.rises(OPEN), ir.FALSE),
        (ir.falls(OPEN), ir.FALSE),
        (ir.all_of([ir.rises(OPEN), SHUT]), ir.FALSE),
        (ir.any_of([ir.rises(OPEN), SHUT]), SHUT),
        (ir.rises(ir.all_of([OPEN, SHUT])), ir.FALSE),
        (ir.By(frozenset({0})), ir.By(frozenset({0}))),
    ],
    ids=["now", "was", "rises", "falls", "rises and", "rises or", "both rise", "by"],
)
def test_terms_where_nothing_changes(term: ir.Term, expected: ir.Term) -> None:
    assert _where_nothing_changes(term) == expected


FIELD = ir.Field("note", ("clear", "set"), "clear")


@pytest.mark.parametrize(
    ("updates", "own"),
    [
        (((OPEN, "set"), (ir.rises(SHUT), "clear")), True),
        (((OPEN, "set"), (ir.no(OPEN), "clear")), True),
        (((ir.rises(OPEN), "set"), (SHUT, "clear")), False),  # what holds on would undo what the event noted
        (((ir.By(frozenset({0})), "set"),), False),  # whoever acts elsewhere is noted
        (((ir.was(OPEN), "set"),), False),  # anything else that happens next notes it
    ],
    ids=["level first", "levels", "level last", "by an event", "a moment later"],
)
def test_a_bench_is_split_only_if_nothing_else_that_happens_is_noted(
    updates: tuple[tuple[ir.Term, str], ...], *, own: bool
) -> None:
    [one] = whole(compiled(shape(ZONES)))
    noted = Part(one.faulty, (ir.Observer(FIELD, updates),), one.sought, one.wrong, one.order)
    assert _by_own(noted) == own


# The sets of a part among those of the whole bench.


def test_sets_narrowed_to_a_part_and_widened_again() -> None:
    every, part = FaultSets("abcd", 2), FaultSets("bd", 2)
    narrowed = every.narrowed(part)
    for number, one in enumerate(every.sets):
        less = {part.faults[at] for at in part.sets[int(narrowed[number])]}
        assert less == {every.faults[at] for at in one} & {"b", "d"}
        assert every.widened(part, int(narrowed[number]), number) == number
    assert every.widened(part, 0, every.number[0, 1]) == every.number[(0,)]
    assert every.narrowed(every).tolist() == list(range(len(every.sets)))


@pytest.mark.parametrize(
    "each", [both(["x", "y", "z"]), beside(["x", "y"], ["z", "x"])], ids=["both", "beside"]
)
def test_sets_that_come_and_go_narrowed_and_widened(each: list[tuple[tuple[str, str], ...]]) -> None:
    every = ComingAndGoing(each)
    part = every.of({"x", "z"})
    assert all({name for name, _ in one} <= {"x", "z"} for one in part.each)
    narrowed = every.narrowed(part)
    for number, one in enumerate(every.each):
        assert part.each[int(narrowed[number])] == tuple(member for member in one if member[0] != "y")
        assert every.widened(part, int(narrowed[number]), number) == number
