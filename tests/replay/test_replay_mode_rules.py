"""A demand of which nobody can tell in which mode it came is no evidence, and the result says so."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from interlock.replay.mode_rules import mode_rules_of
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track
from interlock.verdict import Verdict

PERSON_NS = 200_000_000
STEP_NS = 50_000_000


def track(states: list[int]) -> Track:
    stamps = np.arange(len(states), dtype=np.int64) * STEP_NS
    return Track("x", "KEY", stamps, np.array(states, np.int8), Clock(0, 0, 0))


def seen(asked: list[int], device: list[int]) -> Any:
    """What the rule asks of an observation: a door whose stop is required in one mode."""
    function = SimpleNamespace(demand="door", in_modes=["work"], source="a standard")
    required = SimpleNamespace(
        modes=SimpleNamespace(),
        functions={"door_stop": function},
        restart=SimpleNamespace(no_sooner_than=PERSON_NS),
    )
    return SimpleNamespace(
        bench=SimpleNamespace(required=required),
        mode_changes=(),
        selected={},
        asked={"door_stop": track(asked)},
        demands={"door": track(device)},
        device_name=lambda device: f"the {device}",
    )


@pytest.mark.parametrize("hidden", [UNKNOWN, BLIND])
@pytest.mark.parametrize(
    ("before", "samples", "after", "told"),
    [
        ([NO], 2, [NO], True),  # between two samples that agree, however short
        ([YES], 2, [YES], True),
        ([NO], 20, [NO], True),
        ([NO], 2, [YES], False),  # from one side of a change to the other: its interval is wider, no more
        ([YES], 20, [NO], False),
        ([], 3, [NO], False),  # with which the log begins or ends: only if a person could have acted in it
        ([], 20, [NO], True),
        ([YES], 3, [], False),
        ([YES], 20, [], True),
        ([], 20, [], True),
        ([NO, YES], 0, [YES, NO], False),
    ],
)
def test_where_the_mode_is_not_told_a_demand_leaves_it_open(
    hidden: int, before: list[int], samples: int, after: list[int], told: bool
) -> None:
    asked = [*before, *[hidden] * samples, *after]
    found = list(mode_rules_of(seen(asked, [YES] * len(asked))))
    assert [one.verdict for one in found] == [Verdict.INCONCLUSIVE] * told
    for one in found:
        assert (one.function, one.subject, one.effect) == ("door_stop", "door", "mode_known")
        assert ("frames are missing" in one.sentence) is (hidden == BLIND)


@pytest.mark.parametrize("hidden", [UNKNOWN, BLIND])
def test_where_nothing_is_demanded_it_does_not_matter(hidden: int) -> None:
    asked = [NO, *[hidden] * 20, NO]
    assert list(mode_rules_of(seen(asked, [NO] * len(asked)))) == []
    assert list(mode_rules_of(seen(asked, [YES, *[NO] * 20, YES]))) == []
    (one,) = mode_rules_of(seen(asked, [*[NO] * 20, YES, NO]))  # the last sample of the stretch is of it
    assert one.verdict is Verdict.INCONCLUSIVE
