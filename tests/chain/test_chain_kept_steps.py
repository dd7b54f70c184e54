"""Steps that are kept give the same moves as steps that are worked out each time."""

import numpy as np
import pytest
from chain_benches import sample
from chain_fault_benches import faulty_benches, only, small
from hypothesis import HealthCheck, given, settings

from interlock.bench import Bench
from interlock.chain import ground as room
from interlock.chain import ir, kept_steps
from interlock.chain.bent import compile_faulty
from interlock.chain.bent_steps import Moves, Steps
from interlock.chain.fault_list import considered
from interlock.chain.fault_sets import FaultSets
from interlock.chain.ground import Ground
from interlock.chain.kept_steps import KeptSteps
from interlock.chain.losses import fault_observers, losses
from interlock.chain.spread import Level, Spread

Told = set[tuple[int, int, int, bytes]]


def ground(bench: Bench, *, kept: bool, most: int = 1, more: tuple[ir.Observer, ...] = ()) -> Ground:
    faulty = compile_faulty(bench, considered(bench))
    sets = FaultSets([one.id for one in faulty.faults], most)
    terms = [one.term for one in losses(faulty)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "KeptSteps", KeptSteps if kept else Steps)
        found = Ground(faulty, sets, (*fault_observers(faulty.person, terms), *more))
    assert type(found.steps) is (KeptSteps if kept else Steps)
    return found


def told(moves: Moves) -> Told:
    """The moves as one set; those that are possible under none of the sets are none."""
    rows = zip(moves.row.tolist(), moves.event.tolist(), moves.words.tolist(), moves.bits, strict=True)
    return {(row, event, word, bits.tobytes()) for row, event, word, bits in rows if bits.any()}


def joined(moves: Moves) -> dict[tuple[int, int, int], bytes]:
    """The sets under which each row comes by each event to each state, however the ways are split."""
    found: dict[tuple[int, int, int], np.ndarray] = {}
    for at, bits in enumerate(moves.bits):
        key = int(moves.row[at]), int(moves.event[at]), int(moves.words[at])
        found[key] = found.get(key, np.zeros_like(bits)) | bits
    return {key: bits.tobytes() for key, bits in found.items() if bits.any()}


def same_moves(plain: Ground, kept: Ground) -> None:
    spread = searched(plain)
    levels = [one.level for one in spread.levels]
    assert [told_level(one.level) for one in searched(kept).levels] == [told_level(one) for one in levels]
    assert (plain.steps.restless == kept.steps.restless).all()
    few = frozenset(sorted(plain.events)[::2])
    for level in [*levels, *levels[:2]]:
        held = kept.steps.held.numbers(level.bits)
        assert joined(kept.steps.moves(kept.steps.arrived(level.words, held))) == joined(
            plain.steps.moves(plain.steps.arrived(level.words, plain.steps.held.numbers(level.bits)))
        )
        for events in (plain.events, few):
            expected = joined(plain.steps.fire(level.words, level.bits, events))
            assert joined(kept.steps.fire(level.words, level.bits, events)) == expected
    assert (plain.steps.restless == kept.steps.restless).all()
    assert plain.steps.nbytes == 0
    assert (kept.steps.nbytes > 0) is bool(levels)  # a bench that never comes to rest has no states


def searched(one: Ground) -> Spread:
    spread = Spread(one.steps, one.events, arriving=True, most_bytes=1 << 28)
    spread.run(*one.begin(), lambda _: True)
    return spread


def told_level(level: Level) -> set[tuple[int, bytes]]:
    return {(word, bits.tobytes()) for word, bits in zip(level.words.tolist(), level.bits, strict=True)}


@pytest.mark.parametrize("most", [1, 2])
@pytest.mark.parametrize("few_sets", [0, 1 << 20], ids=["event by event", "state by state"])
def test_small_bench(most: int, few_sets: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_steps, "_FEW_SETS", few_sets)
    same_moves(ground(small(), kept=False, most=most), ground(small(), kept=True, most=most))


def test_in_parts_of_a_few_states_and_bits(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = only(sample(), "contactor.welds", "contactor.aux_stays_closed", "relay.out_a_welds")
    monkeypatch.setattr(kept_steps, "_BLOCK", 7)
    monkeypatch.setattr(kept_steps, "_BITS", 1)
    same_moves(ground(bench, kept=False, most=2), ground(bench, kept=True, most=2))


@settings(max_examples=8, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(faulty_benches())
def test_random_benches_also_where_something_never_rests(bench: Bench) -> None:
    same_moves(ground(bench, kept=False, most=2), ground(bench, kept=True, most=2))


def test_observers_that_look_at_each_other_are_not_kept_apart() -> None:
    """What is remembered then decides what is remembered next, so that nothing is looked up."""
    latch = ir.Field("again", ("no", "yes"), "no")
    pressed = ir.Now("stop", frozenset({"pressed"}))
    seen_before = ir.Was("again", frozenset({"no"}))
    more = (ir.Observer(latch, ((ir.all_of([pressed, seen_before]), "yes"), (pressed, "no"))),)
    plain, kept = ground(small(), kept=False, more=more), ground(small(), kept=True, more=more)
    expected = [told_level(one.level) for one in searched(plain).levels]
    assert [told_level(one.level) for one in searched(kept).levels] == expected
    again = plain.layout.within(searched(plain).met.words, "again", frozenset({"yes"}))
    assert again.any()
    assert not again.all()


def test_known_beforehand_or_not_is_the_same() -> None:
    first, second = ground(small(), kept=True), ground(small(), kept=True)
    words, bits = first.begin()
    held = second.steps.held.numbers(bits)
    second.steps.know(np.concatenate([words, words]), np.concatenate([held, held]), arriving=False)
    assert second.steps.nbytes > first.steps.nbytes
    assert told(first.steps.fire(words, bits, first.events)) == told(
        second.steps.fire(words, bits, second.events)
    )


def test_what_is_known_under_fewer_sets_is_worked_out_anew() -> None:
    """A state first met without faults, then under all sets, moves as if it had been met under all at once."""
    once, twice = ground(small(), kept=True), ground(small(), kept=True)
    words, bits = once.begin()
    none = np.zeros_like(bits)
    none[:, 0] = 1  # the set of no fault
    for steps, parts in ((once.steps, [bits]), (twice.steps, [none, bits])):
        for part in parts:
            steps.know(words, steps.held.numbers(part), arriving=True)
    assert joined(twice.steps.fire(words, bits, twice.events)) == joined(
        once.steps.fire(words, bits, once.events)
    )
    sound = joined(twice.steps.fire(words, none, twice.events))
    assert sound == joined(ground(small(), kept=False).steps.fire(words, none, twice.events))


@pytest.mark.parametrize("first", [True, False], ids=["faults known at first", "faults never known"])
def test_what_faults_lead_to_is_never_told_from_less_than_all_sets(first: bool) -> None:
    """A search without arriving faults widens what is known of events alone; arrivals must not be lost by that."""
    plain, kept = (ground(small(), kept=one, most=2) for one in (False, True))
    words, bits = plain.begin()
    none = np.zeros_like(bits)
    none[:, 0] = 1
    kept.steps.know(words, kept.steps.held.numbers(none), arriving=first)
    kept.steps.know(words, kept.steps.held.numbers(bits), arriving=False)
    held = kept.steps.held.numbers(bits)
    expected = joined(plain.steps.moves(plain.steps.arrived(words, plain.steps.held.numbers(bits))))
    assert joined(kept.steps.moves(kept.steps.arrived(words, held))) == expected
    assert len(expected) > 1
    kept.steps.know(words, held, arriving=True)
    assert joined(kept.steps.moves(kept.steps.arrived(words, held))) == expected
