"""Columns piled up part by part are those that all parts together would be."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.trace import pile as pile_module
from interlock.trace.model import Columns
from interlock.trace.pile import Pile


def part_of(count: int, width: int, seed: int) -> Columns:
    source = np.random.default_rng(seed)
    return Columns(
        times_ns=source.integers(0, 10**18, count),
        idents=source.integers(0, 1 << 29, count).astype(np.uint32),
        extended=source.integers(0, 2, count).astype(np.bool_),
        lengths=source.integers(0, 9, count).astype(np.uint8),
        data=source.integers(0, 256, (count, width)).astype(np.uint8),
        places=source.integers(0, 10**6, count),
        channels=source.integers(0, 2, count).astype(np.uint16),
        absolute=False,
        place_is="line",
    )


@settings(max_examples=80, deadline=None)
@given(
    parts=st.lists(st.tuples(st.integers(0, 60), st.sampled_from([8, 64])), min_size=1, max_size=7),
    few=st.sampled_from([1, 40, 1000]),
)
def test_parts_of_any_size_and_width_are_one_after_another(parts: list[tuple[int, int]], few: int) -> None:
    given_parts = [part_of(count, width, seed) for seed, (count, width) in enumerate(parts)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pile_module, "_FEW", few)
        pile = Pile("line")
        for part in given_parts:
            pile.add(part)
    joined = pile.columns()
    for name in ("times_ns", "idents", "extended", "lengths", "places", "channels"):
        wanted = np.concatenate([getattr(part, name) for part in given_parts])
        assert getattr(joined, name).tolist() == wanted.tolist()
    for row, block in zip(
        joined.data.tolist(), (row for part in given_parts for row in part.data.tolist()), strict=True
    ):
        assert row == block + [0] * (len(row) - len(block))
    assert pile.rows == sum(count for count, _ in parts)


def test_buses_of_one_name_are_one_bus() -> None:
    pile = Pile("line")
    pile.add(part_of(50, 8, 1), ("can0", "can1"))
    pile.add(part_of(50, 8, 2), ("can1", "can2"))
    pile.add(part_of(0, 8, 3), ())
    names = [list(pile.channels)[number] for number in pile.columns().channels.tolist()]
    wanted = [("can0", "can1")[n] for n in part_of(50, 8, 1).channels]
    wanted += [("can1", "can2")[n] for n in part_of(50, 8, 2).channels]
    assert names == wanted
    assert pile.columns().place_is == "line"
