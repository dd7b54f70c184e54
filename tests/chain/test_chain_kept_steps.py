"""Steps that are kept give the same moves as steps that are worked out each time."""

import numpy as np
import pytest
from chain_fault_benches import faulty_benches, small
from hypothesis import HealthCheck, given, settings

from interlock.bench import Bench
from interlock.chain import hunt
from interlock.chain.bent import compile_faulty
from interlock.chain.bent_steps import Moves, Steps
from interlock.chain.fault_list import considered
from interlock.chain.fault_sets import FaultSets
from interlock.chain.hunt import Ground
from interlock.chain.kept_steps import KeptSteps
from interlock.chain.losses import fault_observers, losses
from interlock.chain.spread import Level, Spread

Told = set[tuple[int, int, int, bytes]]


def ground(bench: Bench, *, kept: bool) -> Ground:
    faulty = compile_faulty(bench, considered(bench))
    sets = FaultSets([one.id for one in faulty.faults], 1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(hunt, "_FEW_SETS", 1 << 20 if kept else 0)
        found = Ground(faulty, sets, fault_observers(faulty.person, [one.term for one in losses(faulty)]))
    assert type(found.steps) is (KeptSteps if kept else Steps)
    return found


def told(moves: Moves) -> Told:
    rows = zip(moves.row.tolist(), moves.event.tolist(), moves.words.tolist(), moves.bits, strict=True)
    return {(row, event, word, bits.tobytes()) for row, event, word, bits in rows}


def same_moves(bench: Bench) -> None:
    plain, kept = ground(bench, kept=False), ground(bench, kept=True)
    spread = searched(plain)
    levels = [one.level for one in spread.levels]
    assert [told_level(one.level) for one in searched(kept).levels] == [told_level(one) for one in levels]
    assert (plain.steps.restless == kept.steps.restless).all()
    few = frozenset(sorted(plain.events)[::2])
    for level in [*levels, *levels[:2]]:
        for events in (plain.events, few):
            expected = told(plain.steps.fire(level.words, level.bits, events))
            assert told(kept.steps.fire(level.words, level.bits, events)) == expected
    assert (plain.steps.restless == kept.steps.restless).all()
    assert plain.steps.nbytes == 0 < kept.steps.nbytes


def searched(one: Ground) -> Spread:
    spread = Spread(one.steps, one.events, arriving=True, most_bytes=1 << 28)
    spread.run(*one.begin(), lambda _: True)
    return spread


def told_level(level: Level) -> set[tuple[int, bytes]]:
    return {(word, bits.tobytes()) for word, bits in zip(level.words.tolist(), level.bits, strict=True)}


def test_small_bench() -> None:
    same_moves(small())


@settings(max_examples=6, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(faulty_benches())
def test_random_benches_also_where_something_never_rests(bench: Bench) -> None:
    same_moves(bench)


def test_known_beforehand_or_not_is_the_same() -> None:
    first, second = ground(small(), kept=True), ground(small(), kept=True)
    words, bits = first.begin()
    second.steps.know(np.concatenate([words, words]))
    assert told(first.steps.fire(words, bits, first.events)) == told(
        second.steps.fire(words, bits, second.events)
    )
