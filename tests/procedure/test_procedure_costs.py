"""Costs of acts: an emergency stop under load is the dearest; keys that mean nothing are refused."""

import pytest

from interlock.errors import InterlockError
from interlock.procedure.costs import DEFAULT_COSTS, SOURCE, costs_of


def test_the_emergency_stop_under_load_is_dearest_and_a_button_cheapest() -> None:
    """Common practice, no source: it wears contactor and drives."""
    assert max(DEFAULT_COSTS, key=DEFAULT_COSTS.__getitem__) == "supply_stop_under_load"
    assert min(DEFAULT_COSTS, key=DEFAULT_COSTS.__getitem__) == "act"
    assert "no source" in SOURCE


def test_given_costs_take_the_place_of_the_defaults() -> None:
    found = costs_of({"guard": 7, "reset.press": 2})
    assert found["guard"] == 7
    assert found["reset.press"] == 2
    assert found["act"] == DEFAULT_COSTS["act"]


def test_none_given_are_the_defaults() -> None:
    assert costs_of() == dict(DEFAULT_COSTS)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"gard": 3}, "unknown key"),
        ({"guard": 0}, "above zero"),
        ({"guard": True}, "whole number"),
        ({"act": -1}, "above"),
    ],
)
def test_what_is_no_cost_is_refused(given: dict[str, int], said: str) -> None:
    with pytest.raises(InterlockError, match=said):
        costs_of(given)
