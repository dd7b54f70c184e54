"""Which end of an input a computation uses."""

import pytest

from interlock.rating.ends import Ends
from interlock.rating.uncertainty import Range

MORE, LESS = Range(1, 3), Range(1, 3, "less")


@pytest.mark.parametrize(
    ("pessimistic", "known", "value", "other"),
    [(True, MORE, 1, 3), (False, MORE, 3, 1), (True, LESS, 3, 1), (False, LESS, 1, 3)],
)
def test_ends(pessimistic, known, value, other) -> None:
    ends = Ends(pessimistic=pessimistic)
    assert (ends.value("a", known), ends.other_end("a", known)) == (value, other)


def test_a_held_input_has_its_value_at_both_ends() -> None:
    ends = Ends(pessimistic=True, fixed={"a": 2.5})
    assert (ends.value("a", MORE), ends.other_end("a", MORE)) == (2.5, 2.5)
    assert ends.value("b", MORE) == 1


def test_every_input_asked_for_is_remembered_apart() -> None:
    first, second = Ends(pessimistic=True), Ends(pessimistic=True)
    first.value("a", MORE)
    assert first.seen == {"a": MORE}
    assert second.seen == {}
