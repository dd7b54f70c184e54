"""Values called by their names: how a condition is read, compared with a log, and kept in the fingerprint."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench.decides import check_decides, check_label
from interlock.bench.described import DescribedSignal
from interlock.bench.fingerprint import canonical
from interlock.bench.observe import Condition, ObserveError, parse_condition
from interlock.timing.track import NO, UNKNOWN, YES, condition_states
from interlock.trace.model import Samples

NAMES = {0.0: "off", 1.0: "on", 2.0: "on and off"}
STATE = DescribedSignal(
    "S", 0, 3, choices={0: "off", 1: "on", 2: "fault", 3: "fault"}, codes=(0.0, 1.0, 2.0, 3.0)
)


def samples(values: list[float], labels: dict[float, str] | None = None) -> Samples:
    times = np.arange(len(values), dtype=np.int64)
    return Samples("M", "S", "", times, np.array(values), NAMES if labels is None else labels)


def states(condition: Condition, found: Samples) -> list[int]:
    return condition_states(condition, {"S": found}, {}).tolist()


@pytest.mark.parametrize("text", ["M.S is 'on'", "  M.S  is  'on'  ", "M.S is ' on '"])
def test_a_name_in_quotes_stands_for_its_value(text: str) -> None:
    (comparison,) = parse_condition(text).comparisons
    assert (comparison.label, comparison.operator, comparison.unit) == ("on", "is", "")
    assert states(parse_condition(text), samples([0, 1, 2, 1])) == [NO, YES, NO, YES]


def test_a_name_may_hold_the_words_that_join_comparisons() -> None:
    condition = parse_condition("M.S is 'on and off' or M.S is 'off'")
    assert [one.label for one in condition.comparisons] == ["on and off", "off"]
    assert not condition.every
    assert states(condition, samples([0, 1, 2])) == [YES, NO, YES]


@pytest.mark.parametrize(
    "text",
    ["M.S is 'on", "M.S is on", "M.S > 'on'", "|M.S| is 'on'", "M.S is ''", "M.S is 'on' A", "M.S is 'o'n'"],
)
def test_what_names_no_value_is_refused(text: str) -> None:
    with pytest.raises(ObserveError, match="compares no signal with a number"):
        parse_condition(text)


def test_a_name_that_the_log_does_not_know_or_not_for_sure_decides_nothing() -> None:
    condition = parse_condition("M.S is 'on'")
    assert states(condition, samples([0, 1], {})) == [UNKNOWN, UNKNOWN]
    assert states(condition, samples([0, 1], {0.0: "on", 1.0: "on"})) == [UNKNOWN, UNKNOWN]
    assert states(condition, samples([float("nan"), 1])) == [UNKNOWN, YES]


@given(values=st.lists(st.sampled_from([0.0, 1.0, 2.0, 7.0]), min_size=1), value=st.sampled_from([0, 1]))
def test_a_name_means_exactly_what_its_number_means(values: list[float], value: int) -> None:
    by_name = parse_condition(f"M.S is '{NAMES[value]}'")
    assert states(by_name, samples(values)) == states(parse_condition(f"M.S is {value}"), samples(values))


@pytest.mark.parametrize(
    ("label", "why"),
    [
        ("on", None),
        ("off", None),
        ("On", "the signal has no value of this name"),
        ("fault", "several values of the signal have this name"),
    ],
)
def test_a_name_is_held_against_the_signal(label: str, why: str | None) -> None:
    (comparison,) = parse_condition(f"M.S is '{label}'").comparisons
    assert [one.why for one in check_label((), comparison, STATE)] == ([] if why is None else [why])


def test_a_signal_without_names_needs_a_number() -> None:
    (comparison,) = parse_condition("M.S is 'on'").comparisons
    (mistake,) = check_label((), comparison, DescribedSignal("S", 0, 3))
    assert (mistake.why, mistake.instead) == ("the signal's values have no names", "write a number")


@pytest.mark.parametrize(
    ("text", "decides"), [("M.S is 3", True), ("M.S is 4", False), ("M.S > 3", False), ("M.S > 2", True)]
)
def test_numbers_are_held_against_the_values_that_bits_stand_for(text: str, decides: bool) -> None:
    (comparison,) = parse_condition(text).comparisons
    assert (list(check_decides((), comparison, STATE)) == []) == decides


def test_names_count_in_the_fingerprint() -> None:
    one, other = (canonical(parse_condition(f"M.S is '{name}'")) for name in ("on", "off"))
    assert one != other
    assert one == canonical(parse_condition("M.S  is 'on'"))
    assert one != canonical(parse_condition("M.S is 1"))
