"""How a device shows itself: signals, conditions and amounts are read as written, or refused at their part."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench.observe import (
    Amount,
    Comparison,
    Condition,
    ObserveError,
    SignalName,
    parse_amount,
    parse_condition,
    parse_signal,
)

identifiers = st.from_regex(r"[A-Za-z_][A-Za-z0-9_]{0,8}", fullmatch=True)
signals = st.builds(SignalName, identifiers, identifiers)
numbers = st.decimals(-1000, 1000, places=3).map(lambda number: f"{number:f}")
comparisons = st.builds(
    lambda name, bars, operator, number, unit: (
        f"{'|' * bars}{name}{'|' * bars} {operator} {number}{unit and ' ' + unit}",
        Comparison(name, bool(bars), operator, float(number), unit),
    ),
    signals,
    st.integers(0, 1),
    st.sampled_from(["is", "<", "<=", ">", ">="]),
    numbers,
    st.sampled_from(["", "A", "1/min", "N m", "kg m2"]),
)


@given(signals)
def test_a_signal_is_read_as_it_is_written(name: SignalName) -> None:
    assert parse_signal(str(name)) == name
    assert parse_signal(f"  {name} ") == name


@given(st.lists(comparisons, min_size=1, max_size=4), st.sampled_from(["and", "or"]))
def test_a_condition_is_read_as_it_is_written(parts: list[tuple[str, Comparison]], word: str) -> None:
    text = f" {word} ".join(written for written, _ in parts)
    condition = parse_condition(text)
    assert condition.comparisons == tuple(comparison for _, comparison in parts)
    assert condition.text == text
    if len(parts) > 1:
        assert condition.every == (word == "and")


def test_a_magnitude_of_two_units() -> None:
    assert parse_condition("|M.Speed| > 0 1/min or |M.Torque| > 0 Nm") == Condition(
        (
            Comparison(SignalName("M", "Speed"), True, ">", 0.0, "1/min"),
            Comparison(SignalName("M", "Torque"), True, ">", 0.0, "Nm"),
        ),
        False,
        "|M.Speed| > 0 1/min or |M.Torque| > 0 Nm",
    )


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("", 0),
        ("M", 0),
        ("M.S", 0),
        ("M.S is", 0),
        ("M.S = 1", 0),
        ("M.S == 1", 0),
        ("M.S => 1", 0),
        ("M.S is one", 0),
        ("M.S is 1e3", 0),
        ("M.S is .5", 0),
        ("M.S is 0x1", 0),
        ("M.S is nan", 0),
        ("M.S is inf", 0),
        ("M.S is 1,5", 0),
        ("M.S is1", 0),
        ("M.S.T is 1", 0),
        ("|M.S > 1", 0),
        ("M.S| > 1", 0),
        ("||M.S|| > 1", 0),
        ("not M.S is 1", 0),
        ("1 < M.S", 0),
        ("  M.S = 1", 2),
        ("M.S is 1 and M.T = 1", 13),
        ("M.S is 1 or  M.T", 13),
        ("M.S is 1 and and M.T is 1", 13),
        ("M.Ü is 1", 0),
        ("M.S is ٣", 0),
        ("M.S is " + "1" * 101, 0),
    ],
)
def test_what_is_no_condition_is_said_at_its_part(text: str, column: int) -> None:
    with pytest.raises(ObserveError) as caught:
        parse_condition(text)
    assert caught.value.column == column
    assert caught.value.instead == "write 'MESSAGE.SIGNAL is 1' or '|MESSAGE.SIGNAL| > 0.3 A'"


@pytest.mark.parametrize(
    ("text", "column"),
    [("", 0), ("M.S is 1 and", 12), ("and M.S is 1", 0), ("M.S is 1 and and M.T is 1", 13), ("or", 0)],
)
def test_a_missing_comparison_is_said_where_it_should_stand(text: str, column: int) -> None:
    with pytest.raises(ObserveError, match="a comparison is missing here") as caught:
        parse_condition(text)
    assert caught.value.column == column


@pytest.mark.parametrize(
    ("text", "column"), [("M.A is 1 and M.B is 1 or M.C is 1", 22), ("M.A is 1 or M.B is 1 and M.C is 1", 21)]
)
def test_and_with_or_is_said_at_the_second_word(text: str, column: int) -> None:
    with pytest.raises(
        ObserveError, match="'and' and 'or' stand in one condition; use one of the two only"
    ) as caught:
        parse_condition(text)
    assert caught.value.column == column


@pytest.mark.parametrize("text", ["", "M", "M.", ".S", "M.S.T", "M S", "1.S", "M.é", "M .S"])
def test_what_is_no_signal(text: str) -> None:
    with pytest.raises(
        ObserveError, match=r"is not of the form MESSAGE\.SIGNAL; write both names as in the DBC"
    ):
        parse_signal(text)


@given(st.decimals(0, 10**6, places=4), st.sampled_from(["", "A", "1/min", "N m"]))
def test_an_amount_is_read_as_it_is_written(number: object, unit: str) -> None:
    assert parse_amount(f"{number:f} {unit}") == Amount(float(f"{number:f}"), unit)


@pytest.mark.parametrize(
    "text", ["", "A", "-1 A", "+1 A", "1A", "nan A", "1e3 A", ".5 A", "1. A", "1,5 A", "9" * 101]
)
def test_what_is_no_amount(text: str) -> None:
    with pytest.raises(
        ObserveError, match=r"is not of the form '0\.1 A'; write a number and the signal's unit"
    ):
        parse_amount(text)


@given(st.text(alphabet="M.S|<>=is and or1 A\n", max_size=40))
def test_any_text_is_a_condition_or_is_refused_inside_it(text: str) -> None:
    try:
        condition = parse_condition(text)
    except ObserveError as error:
        assert error.column is not None
        assert 0 <= error.column <= len(text)
    else:
        assert condition.comparisons
