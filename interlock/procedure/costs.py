"""What each act of a proof test costs, in arbitrary units: wear and time, as a bench's people would weigh them."""

from collections.abc import Mapping
from typing import Final

from interlock.errors import InterlockError

__all__ = ["DEFAULT_COSTS", "SOURCE", "costs_of"]

SOURCE: Final = "common practice, no source"
"""Where the default weights come from; `emergency stop under load` is dear because it wears contactor and drives."""

DEFAULT_COSTS: Final[Mapping[str, int]] = {
    "act": 1,  # any act not named below: a button, a start, a reference
    "guard": 4,  # opening or closing a guard, without load
    "guard_under_load": 14,  # the shaft must coast down first
    "stop_under_load": 10,  # coast-down and run-up
    "supply_on": 3,  # inrush into the capacitors
    "supply_stop": 6,  # a demand that takes the supply, without load: the contactor and the discharge
    "supply_stop_under_load": 100,  # the contactor breaks the load current
}


def costs_of(given: Mapping[str, int] | None = None) -> dict[str, int]:
    """The default costs with those given put in their place; raises InterlockError for an unknown or bad one.

    A key may also be a move's id, such as `reset.press`, which then has this cost always.
    """
    for name, cost in (given or {}).items():
        if name not in DEFAULT_COSTS and "." not in name:
            known = ", ".join(DEFAULT_COSTS)
            raise InterlockError(f"costs: unknown key '{name}'; write one of {known}, or device.act")
        if isinstance(cost, bool) or not isinstance(cost, int) or cost < 1:
            raise InterlockError(f"costs: '{name}' is {cost!r}; write a whole number above zero")
    return {**DEFAULT_COSTS, **(given or {})}
