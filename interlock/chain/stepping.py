"""What events make of many packed states at once, and how all else then comes to rest; as `reference` means it."""

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir, reference
from interlock.chain.arrays import Truths, present
from interlock.chain.layout import Layout, Words, either, same, unique

__all__ = ["Numbers", "fire", "rest", "settle"]

Numbers = NDArray[np.int64]
_LOOK: Final = 64  # rounds after which states are looked at that may go round for ever


def fire(
    events: Iterable[tuple[int, ir.Event]], layout: Layout, words: Words
) -> tuple[Numbers, Numbers, Words]:
    """What each event makes of each state before anything reacts: row, event, state; sorted by row, then by event."""
    found = list(_fired(events, layout, words))
    row = np.concatenate([rows for rows, _, _ in found])
    event = np.concatenate([np.full(len(rows), number) for rows, number, _ in found])
    raw = np.concatenate([raw for _, _, raw in found])
    order = np.lexsort((event, row))
    return row[order], event[order], raw[order]


def _fired(
    events: Iterable[tuple[int, ir.Event]], layout: Layout, words: Words
) -> Iterator[tuple[Numbers, int, Words]]:
    truth = present(layout, words)
    yield np.empty(0, np.int64), 0, words[:0]
    for number, event in events:
        free = np.ones(len(words), dtype=np.bool_)
        for step in event.steps:
            ready = free & truth(ir.all_of([ir.Now(event.device, step.sources), step.guard]))
            free &= ~ready
            rows = np.flatnonzero(ready)
            yield rows, number, layout.put(words[rows], event.device, step.to)


def settle(chain: ir.Chain, layout: Layout, words: Words) -> Words:
    """All reactions that come at once; raises WiringLoop if some state never comes to rest."""
    settled, restless = rest(chain, layout, words)
    for number in layout.numbers(words[np.flatnonzero(restless)[:1]]):
        reference.settle(chain, layout.unpack(number))  # raises, and tells which devices go round
        raise RuntimeError("a state that goes round for ever came to rest")
    return settled


def rest(chain: ir.Chain, layout: Layout, words: Words) -> tuple[Words, Truths]:
    """Where the reactions lead, and which states never come to rest."""
    distinct, back = unique(words)
    settled, marked = distinct.copy(), distinct
    moving, restless, turn, look = np.arange(len(distinct)), np.zeros(len(distinct), np.bool_), 0, _LOOK
    while moving.size:
        before = settled[moving]
        after = _round(chain, layout, before)
        settled[moving] = after
        going, turn = ~same(after, before), turn + 1
        if turn > _LOOK:  # a state that comes back to where it was marked goes round
            round_ = going & same(after, marked[moving])
            restless[moving[round_]] = True
            going &= ~round_
        if turn == look:
            marked, look = settled.copy(), 2 * look
        moving = moving[going]
    return settled[back], restless[back]


def _round(chain: ir.Chain, layout: Layout, words: Words) -> Words:
    truth, after = present(layout, words), words
    for device in chain.reactions:
        free = np.ones(len(words), dtype=np.bool_)
        for step in device.steps:
            ready = free & truth(ir.all_of([ir.Now(device.device, step.sources), step.guard]))
            free &= ~ready
            after = either(ready, layout.put(after, device.device, step.to), after)
    return after
