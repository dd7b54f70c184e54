"""Quantities: units by the SI, exactness to the nanosecond, laws of reading and writing."""

import math
import re
from decimal import Decimal
from fractions import Fraction

import pytest
import scipy.constants
from hypothesis import assume, given
from hypothesis import strategies as st

from interlock.bench.quantity import (
    UNITS,
    Quantity,
    QuantityError,
    example_of,
    parse_quantity,
    quantity_pattern,
    same_unit,
    time_ns,
    time_text,
)

# unit, value in coherent SI units, where that is said. SI Brochure, 9th edition (BIPM 2019): table 2 (base units),
# table 4 (units with special names), table 7 (prefixes), table 8 (non-SI units; min and h are also on the BIPM page
# "SI brochure, table 6" of the 8th edition). Revolutions per minute: ISO 80000-3:2019, rotational frequency.
SI = {
    ("time", "s"): 1.0,
    ("time", "ms"): scipy.constants.milli,
    ("time", "us"): scipy.constants.micro,
    ("time", "µs"): scipy.constants.micro,
    ("time", "μs"): scipy.constants.micro,
    ("time", "ns"): scipy.constants.nano,
    ("time", "min"): scipy.constants.minute,
    ("time", "h"): scipy.constants.hour,
    ("speed", "1/s"): 1.0,
    ("speed", "1/min"): 1 / scipy.constants.minute,
    ("speed", "r/min"): 1 / scipy.constants.minute,
    ("speed", "rpm"): 1 / scipy.constants.minute,
    ("voltage", "V"): 1.0,
    ("voltage", "mV"): scipy.constants.milli,
    ("voltage", "kV"): scipy.constants.kilo,
    ("current", "A"): 1.0,
    ("current", "mA"): scipy.constants.milli,
    ("torque", "Nm"): 1.0,
    ("torque", "N m"): 1.0,
    ("torque", "N·m"): 1.0,
    ("torque", "mNm"): scipy.constants.milli,
    ("inertia", "kg m2"): 1.0,
    ("inertia", "kg m²"): 1.0,
    ("inertia", "kg·m²"): 1.0,
    ("capacitance", "F"): 1.0,
    ("capacitance", "mF"): scipy.constants.milli,
    ("capacitance", "µF"): scipy.constants.micro,
    ("capacitance", "μF"): scipy.constants.micro,
    ("capacitance", "uF"): scipy.constants.micro,
    ("power", "W"): 1.0,
    ("power", "kW"): scipy.constants.kilo,
    ("length", "m"): 1.0,
    ("length", "mm"): scipy.constants.milli,
    ("temperature", "°C"): 1.0,
    ("temperature", "degC"): 1.0,
    ("frequency", "Hz"): 1.0,
    ("frequency", "kHz"): scipy.constants.kilo,
    ("frequency", "MHz"): scipy.constants.mega,
    ("frequency", "GHz"): scipy.constants.giga,
    ("ratio", "ppm"): scipy.constants.micro,  # ISO 80000-1:2009, 7.3.3, and percent alike
    ("ratio", "%"): scipy.constants.centi,
}
BASE = {  # the first unit of each dimension, in coherent SI units
    dimension: SI[dimension, next(iter(units))] for dimension, units in UNITS.items()
}
DIMENSION_UNITS = [(dimension, unit) for dimension, units in UNITS.items() for unit in units]


def test_every_unit_has_a_source() -> None:
    assert {(dimension, unit) for dimension, unit in DIMENSION_UNITS} == set(SI)


@pytest.mark.parametrize(("dimension", "unit"), DIMENSION_UNITS)
def test_factors_are_those_of_the_si(dimension: str, unit: str) -> None:
    found = parse_quantity(f"1 {unit}", dimension).number * BASE[dimension]
    assert math.isclose(found, SI[dimension, unit], rel_tol=1e-12)


def test_no_symbol_names_two_units() -> None:
    symbols = [unit for _, unit in DIMENSION_UNITS]
    assert len(symbols) == len(set(symbols))


@pytest.mark.parametrize(
    ("text", "nanoseconds"),
    [
        ("100 ms", 100_000_000),
        ("0.1 s", 100_000_000),
        ("1e-1 s", 100_000_000),
        ("1E2ms", 100_000_000),
        ("17500 us", 17_500_000),
        ("17.5 ms", 17_500_000),
        ("+5 s", 5_000_000_000),
        ("-5 s", -5_000_000_000),
        ("  2 min ", 120_000_000_000),
        ("1.5 h", 5_400_000_000_000),
        ("0.000000001 s", 1),
        ("0 ns", 0),
        ("-0 ms", 0),
        ("100\u00a0ms", 100_000_000),  # a no-break space, as text programs put it
        ("9223372036.854775807 s", 2**63 - 1),
        ("0.1000000000000000000000000000000000000000 s", 100_000_000),
    ],
)
def test_times_in_whole_nanoseconds(text: str, nanoseconds: int) -> None:
    assert time_ns(parse_quantity(text, "time")) == nanoseconds


@pytest.mark.parametrize(
    "text",
    [
        "0.5 ns",
        "1e-10 s",
        "0.10000000000000000000000000000000000000001 s",
        "1.0000000000000000000000000000000001 min",
    ],
)
def test_finer_than_a_nanosecond_is_never_rounded(text: str) -> None:
    with pytest.raises(QuantityError, match="finer than a nanosecond; write whole nanoseconds"):
        time_ns(parse_quantity(text, "time"))


@pytest.mark.parametrize("text", ["9223372036.854775808 s", "1e10 s", "-1e290 h", "2562048 h"])
def test_a_time_must_fit_64_bits(text: str) -> None:
    with pytest.raises(QuantityError, match="longer than 292 years; write a shorter time"):
        time_ns(parse_quantity(text, "time"))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (100, "'100' has no unit; write '100 ms' or another unit of time"),
        (0.1, "'0.1' has no unit; write '0.1 ms' or another unit of time"),
        ("100", "'100' has no unit; write '100 ms' or another unit of time"),
        (True, "'true' is not a time; write a time such as '100 ms'"),
        (None, "nothing is not a time; write a time such as '100 ms'"),
        ([], "'[]' is not a time; write a time such as '100 ms'"),
        ("", "'' does not begin with a finite decimal number; write a time such as '100 ms'"),
        ("ms", "'ms' does not begin with a finite decimal number; write a time such as '100 ms'"),
        (".5 s", "'.5 s' does not begin with a finite decimal number; write a time such as '100 ms'"),
        ("inf s", "'inf s' does not begin with a finite decimal number; write a time such as '100 ms'"),
        ("NaN s", "'NaN s' does not begin with a finite decimal number; write a time such as '100 ms'"),
        ("٣ s", "'٣ s' does not begin with a finite decimal number; write a time such as '100 ms'"),
        ("1e999 s", "'1e999 s' is too large; write a time such as '100 ms'"),
        ("1e-999 s", "'1e-999 s' is too small; write a time such as '100 ms'"),
        ("1e9999 s", "'1e999 9 s' is not one number and a unit; write a time such as '100 ms'"),
        ("5 V", "'V' is not a unit of time; write one of h, min, ms, ns, s, us, µs, μs"),
        ("5/min", "'/min' is not a unit of time; did you mean min?"),
        ("5 MS", "'MS' is not a unit of time; did you mean ms?"),
        ("5 S", "'S' is not a unit of time; did you mean s?"),
        ("5 msec", "'msec' is not a unit of time; did you mean ms?"),
        ("5 ms ms", "'ms ms' is not a unit of time; write one of h, min, ms, ns, s, us, µs, μs"),
        ("1 000 ms", "'1 000 ms' is not one number and a unit; write a time such as '100 ms'"),
        ("1_000 ms", "'1 _000 ms' is not one number and a unit; write a time such as '100 ms'"),
        ("1,5 s", "a comma is no decimal sign here; write '1.5 s'"),
        ("1.5.3 s", "'1.5 .3 s' is not one number and a unit; write a time such as '100 ms'"),
        ("0x10 s", "'x10 s' is not a unit of time; write one of h, min, ms, ns, s, us, µs, μs"),
        ("5 ms\nx", "'ms x' is not a unit of time; did you mean ms?"),
        (
            "1" * 101 + " s",
            f"'{'1' * 60}...' does not begin with a finite decimal number; write a time such as '100 ms'",
        ),
    ],
)
def test_what_is_no_time(text: object, why: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "time")
    assert str(caught.value) == why


def test_a_number_that_runs_into_its_unit_is_refused() -> None:
    with pytest.raises(QuantityError, match=r"'/min' is not a unit of speed; did you mean r/min or 1/min\?"):
        parse_quantity("15001/min", "speed")


@pytest.mark.parametrize("dimension", UNITS)
def test_each_dimension_shows_an_example_that_it_reads(dimension: str) -> None:
    assert str(parse_quantity(example_of(dimension), dimension)) == example_of(dimension)


numbers = st.from_regex(r"[+-]?[0-9]{1,12}(\.[0-9]{1,12})?([eE][+-]?[0-9]{1,2})?", fullmatch=True)
units = st.sampled_from(DIMENSION_UNITS)


@given(numbers, units, st.sampled_from(["", " ", "  ", "\t"]))
def test_what_is_read_can_be_written_and_read_again(number: str, unit: tuple[str, str], gap: str) -> None:
    dimension, symbol = unit
    assume(gap or not symbol[0].isdigit())  # "15001/min" is refused, as it should be
    quantity = parse_quantity(f"{number}{gap}{symbol}", dimension)
    again = parse_quantity(str(quantity), dimension)
    assert again == quantity
    assert str(again) == f"{number} {symbol}"


@given(numbers, units)
def test_values_are_exact(number: str, unit: tuple[str, str]) -> None:
    dimension, symbol = unit
    quantity = parse_quantity(f"{number} {symbol}", dimension)
    assert Fraction(quantity.value) == Fraction(number) * Fraction(UNITS[dimension][symbol])
    assert quantity.dimension == dimension


@given(numbers, units, units)
def test_one_value_in_two_units_is_one_value(
    number: str, one: tuple[str, str], other: tuple[str, str]
) -> None:
    (dimension, symbol), (_, second) = one, other
    if second not in UNITS[dimension]:
        return
    ratio = Fraction(UNITS[dimension][symbol]) / Fraction(UNITS[dimension][second])
    quantity = parse_quantity(f"{number} {symbol}", dimension)
    scaled = Fraction(number) * ratio
    assert Fraction(quantity.value) == scaled * Fraction(UNITS[dimension][second])


@given(st.integers(-(2**63) + 1, 2**63 - 1))
def test_every_time_can_be_written_and_read_again(nanoseconds: int) -> None:
    text = time_text(nanoseconds)
    assert time_ns(parse_quantity(text, "time")) == nanoseconds


@pytest.mark.parametrize(
    ("nanoseconds", "text"),
    [
        (0, "0 ms"),
        (1, "1 ns"),
        (999, "999 ns"),
        (1000, "1 us"),
        (17_500_000, "17.5 ms"),
        (100_000_000, "100 ms"),
        (6_000_000_000, "6 s"),
        (-5_000_000, "-5 ms"),
        (3_600_000_000_001, "3600.000000001 s"),
    ],
)
def test_times_as_people_write_them(nanoseconds: int, text: str) -> None:
    assert time_text(nanoseconds) == text


@given(numbers, units, st.text(alphabet=" \t", max_size=2))
def test_the_pattern_admits_what_is_read(number: str, unit: tuple[str, str], gap: str) -> None:
    dimension, symbol = unit
    assert re.search(quantity_pattern(dimension), f"{number}{gap}{symbol}")


@given(st.text(max_size=12), st.sampled_from(sorted(UNITS)))
def test_any_text_is_read_or_refused_and_the_pattern_agrees(text: str, dimension: str) -> None:
    try:
        quantity = parse_quantity(text, dimension)
    except QuantityError as error:
        assert error.why
        assert error.instead
    else:
        assert math.isfinite(quantity.number)
        assert re.search(quantity_pattern(dimension), text)


def test_a_quantity_cannot_be_changed() -> None:
    quantity = Quantity(Decimal(1), "time", "1 ns")
    with pytest.raises(AttributeError):
        quantity.text = "2 ns"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ("1/min", "rpm"),
        ("1/min", "min-1"),
        ("1/min", "U/min"),
        ("1/min", "r/min"),
        ("1/min", "min^-1"),
        ("Nm", "N m"),
        ("Nm", "N·m"),
        ("Nm", "N*m"),
        (" A ", "A"),
        ("A", "Ampere"),
        ("V", "Volt"),
        ("degC", "°C"),
        ("°C", "Â°C"),
        ("µs", "us"),
        ("", ""),
        ("-", ""),
        (" 1 ", "-"),
        ("%", "%"),
    ],
)
def test_one_unit_in_two_spellings(left: str, right: str) -> None:
    # how databases spell units: common practice, no source
    assert same_unit(left, right)
    assert same_unit(right, left)


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ("A", "mA"),
        ("A", ""),
        ("1/min", "1/s"),
        ("1/min", "rad/s"),
        ("V", "kV"),
        ("Nm", "mNm"),
        ("m", "mm"),
        ("s", "ms"),
        ("mA", "MA"),
        ("min", "1/min"),
        ("h", "H"),
        ("%", ""),
        ("A", "-"),
        ("%", "1"),
        ("V", "A"),
    ],
)
def test_two_units_are_not_one(left: str, right: str) -> None:
    assert not same_unit(left, right)
    assert not same_unit(right, left)


@given(st.text(max_size=5), st.text(max_size=5))
def test_unknown_units_are_the_same_only_if_written_alike(left: str, right: str) -> None:
    assert same_unit(left, left)
    assert same_unit(left, right) == same_unit(right, left)
