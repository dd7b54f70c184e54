"""Demands as spans: what a device shows, and where the mode in which it is asked for cannot be told."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from interlock.replay.periods import Period, demands_of
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track

PERSON_NS = 200_000_000
STEP_NS = 50_000_000


def seen(states: list[int], in_modes: list[str] | None) -> Any:
    """What `demands_of` asks of an observation: one function, demanded by a door."""
    stamps = np.arange(len(states), dtype=np.int64) * STEP_NS
    track = Track("door", "GUARD", stamps, np.array(states, np.int8), Clock(0, 0, 0))
    function = SimpleNamespace(demand="door", in_modes=in_modes)
    restart = SimpleNamespace(no_sooner_than=PERSON_NS)
    required = SimpleNamespace(functions={"door_stop": function}, modes=None, restart=restart)
    bench = SimpleNamespace(required=required)
    return SimpleNamespace(bench=bench, demands={"door": track}, asked={"door_stop": track}, mode_changes=())


def places(found: list[Period]) -> list[tuple[int | None, int | None]]:
    """First sample that shows each demand, and the first that shows it gone."""
    return [
        (
            None if one.onset is None else one.onset.first_new,
            None if one.gone is None else one.gone.first_new,
        )
        for one in found
    ]


@pytest.mark.parametrize("hidden", [UNKNOWN, BLIND])
@pytest.mark.parametrize(("samples", "broken"), [(1, False), (2, False), (3, False), (4, True), (20, True)])
def test_a_demand_that_goes_on_after_the_mode_was_unknown_for_longer_than_a_person_needs_is_two(
    hidden: int, samples: int, broken: bool
) -> None:
    """From the sample before the stretch to the one after it: 4 steps of 50 ms are no longer than 200 ms."""
    states = [NO, YES, YES, *[hidden] * samples, YES, NO]
    end = len(states) - 1
    found = demands_of(seen(states, ["work"]))
    assert places(found) == ([(1, end - 1), (end - 1, end)] if broken else [(1, end)])
    for one in found[1:]:
        assert one.onset is not None
        assert one.onset.blind  # nobody saw it begin


@pytest.mark.parametrize("samples", [1, 20])
def test_a_function_of_all_modes_has_one_demand_whatever_mode_is_selected(samples: int) -> None:
    states = [NO, YES, *[BLIND] * samples, YES, NO]
    assert places(demands_of(seen(states, None))) == [(1, len(states) - 1)]


@pytest.mark.parametrize(
    ("states", "expected"),
    [
        ([NO, *[BLIND] * 9, YES, NO], [(10, 11)]),  # it began unseen, once
        ([NO, YES, *[BLIND] * 9, NO, NO], [(1, 11)]),  # and here it ended so
        ([NO, *[BLIND] * 9, NO, YES, NO], [(11, 12)]),
        ([YES, *[BLIND] * 9, YES], [(None, 10), (10, None)]),
        ([YES, YES, NO, NO], [(None, 2)]),
        ([NO, NO, YES], [(2, None)]),
        ([BLIND, BLIND], []),
    ],
)
def test_only_a_demand_on_both_sides_of_the_stretch_is_parted(
    states: list[int], expected: list[tuple[int | None, int | None]]
) -> None:
    assert places(demands_of(seen(states, ["work"]))) == expected
