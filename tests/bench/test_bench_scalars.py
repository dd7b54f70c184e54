"""Words, numbers and quantities that YAML or a unit makes into something that their writer did not mean."""

import pytest
from bench_sample import check, edited, load

SCALARS = {
    "off_as_text": (
        "place: not stated",
        "place: ‸off",
        "'off': YAML reads this as a truth value; write \"off\" in quotes, or true or false",
    ),
    "yes_as_key": (
        "place: not stated",
        "place: not stated\n  ‸yes: 1",
        "key 'yes': YAML reads this as a truth value, not as a word; put it in quotes",
    ),
    "sexagesimal": (
        "within: 100 ms",
        "within: ‸12:30",
        "'12:30': YAML reads this as a number to the base of sixty; write a decimal number, or \"12:30\" in quotes",
    ),
    "octal": (
        "stop_category: 0",
        "stop_category: ‸010",
        "'010': YAML reads this as an octal number; write a decimal number, or \"010\" in quotes",
    ),
}

NUMBERS = {
    "hexadecimal": (
        "alive_modulo: 256",
        "alive_modulo: ‸0x100",
        "'0x100': YAML reads this as a hexadecimal number; write a decimal number, or \"0x100\" in quotes",
    ),
    "binary": (
        "alive_modulo: 256",
        "alive_modulo: ‸0b1",
        "'0b1': YAML reads this as a binary number; write a decimal number, or \"0b1\" in quotes",
    ),
    "underscores": (
        "alive_modulo: 256",
        "alive_modulo: ‸1_000",
        "'1_000': YAML reads this as a number; write a decimal number, or \"1_000\" in quotes",
    ),
    "no_unit": (
        "within: 100 ms",
        "within: ‸100",
        "within: '100' has no unit; write '100 ms' or another unit of time",
    ),
    "no_unit_in_quotes": (
        "within: 100 ms",
        'within: ‸"100"',
        "within: '100' has no unit; write '100 ms' or another unit of time",
    ),
    "float_no_unit": (
        "within: 100 ms",
        "within: ‸0.1",
        "within: '0.1' has no unit; write '0.1 ms' or another unit of time",
    ),
    "wrong_unit": (
        "within: 100 ms",
        "within: ‸100 V",
        "within: 'V' is not a unit of time; write one of h, min, ms, ns, s, us, µs, μs",
    ),
    "misspelt_unit": (
        "within: 100 ms",
        "within: ‸100 msec",
        "within: 'msec' is not a unit of time; did you mean ms?",
    ),
    "capital_unit": (
        "within: 100 ms",
        "within: ‸100 MS",
        "within: 'MS' is not a unit of time; did you mean ms?",
    ),
    "decimal_comma": (
        "place: not stated\n  ratings: {bus_voltage: 96 V",
        'place: not stated\n  ratings: {bus_voltage: ‸"96,5 V"',
        "bus_voltage: a comma is no decimal sign here; write '96.5 V'",
    ),
    "nan": ("within: 100 ms", "within: ‸.nan", "'.nan': this is no finite number; write a finite number"),
    "inf": ("within: 100 ms", "within: ‸.inf", "'.inf': this is no finite number; write a finite number"),
    "nan_text": (
        "within: 100 ms",
        "within: ‸nan s",
        "within: 'nan s' does not begin with a finite decimal number; write a time such as '100 ms'",
    ),
    "too_large": (
        "within: 100 ms",
        "within: ‸1e999 s",
        "within: '1e999 s' is too large; write a time such as '100 ms'",
    ),
    "too_large_float": (
        "alive_modulo: 256",
        "alive_modulo: ‸1.0e+999",
        "'1.0e+999': this number is too long or too large; write a number that fits",
    ),
    "three_centuries": (
        "within: 100 ms",
        "within: ‸1e10 s",
        "within: '1e10 s' is longer than 292 years; write a shorter time",
    ),
    "finer_than_ns": (
        "within: 100 ms",
        "within: ‸0.5 ns",
        "within: '0.5 ns' is finer than a nanosecond; write whole nanoseconds",
    ),
    "negative": (
        "within: 100 ms",
        "within: ‸-100 ms",
        "within: '-100 ms' is not above zero; write a time above zero",
    ),
    "zero": ("within: 100 ms", "within: ‸0 ms", "within: '0 ms' is not above zero; write a time above zero"),
    "zero_speed": (
        "below: 5 1/min",
        "below: ‸0 1/min",
        "below: '0 1/min' is not above zero; write a speed above zero",
    ),
    "zero_voltage": (
        "at_most: 60 V",
        "at_most: ‸0 V",
        "at_most: '0 V' is not above zero; write a voltage above zero",
    ),
    "zero_period": (
        "period: 5 ms",
        "period: ‸0 ms",
        "period: '0 ms' is not above zero; write a time above zero",
    ),
    "negative_delay": (
        "least: 0 ms",
        "least: ‸-1 ms",
        "least: '-1 ms' is negative; write a time of zero or more",
    ),
    "truth_for_number": (
        "stop_category: 0",
        "stop_category: ‸true",
        "stop_category: 'true' is no stop category; write 0, 1 or 2 (IEC 60204-1, 9.2)",
    ),
    "float_for_category": (
        "stop_category: 0",
        "stop_category: ‸0.0",
        "stop_category: '0.0' is no stop category; write 0, 1 or 2 (IEC 60204-1, 9.2)",
    ),
    "category_three": (
        "stop_category: 0",
        "stop_category: ‸3",
        "stop_category: '3' is no stop category; write 0, 1 or 2 (IEC 60204-1, 9.2)",
    ),
    "text_for_number": (
        "alive_modulo: 256",
        "alive_modulo: ‸many",
        "alive_modulo: 'many' is no whole number; write a whole number",
    ),
    "float_for_number": (
        "alive_modulo: 256",
        "alive_modulo: ‸256.0",
        "alive_modulo: '256.0' is no whole number; write a whole number",
    ),
    "modulo_too_small": (
        "alive_modulo: 256",
        "alive_modulo: ‸1",
        "alive_modulo: '1' is too small; write 2 or more",
    ),
}


@pytest.mark.parametrize("case", SCALARS)
def test_what_yaml_reads_otherwise_than_people(case: str) -> None:
    # the resolution of plain scalars is that of YAML 1.1 (yaml.org/type: bool, int, float, null, merge)
    old, new, said = SCALARS[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize("case", NUMBERS)
def test_numbers_and_quantities(case: str) -> None:
    old, new, said = NUMBERS[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize(
    "text",
    ["yes", "no", "on", "off", "Yes", "NO", "On", "OFF", "True", "FALSE"],
)
def test_every_truth_word_but_true_and_false_is_refused(text: str) -> None:
    said = f"'{text}': YAML reads this as a truth value; write \"{text}\" in quotes, or true or false"
    check(edited(("place: not stated", f"place: ‸{text}")), said)


@pytest.mark.parametrize("text", ["null", "Null", "NULL", "~"])
def test_every_word_for_nothing_is_refused(text: str) -> None:
    said = f"'{text}': YAML reads {text} as nothing; write a value, or remove the key"
    check(edited(("place: not stated", f"place: ‸{text}")), said)


@pytest.mark.parametrize("text", ["2024-01-01", "2001-12-14t21:59:43.10-05:00"])
def test_a_date_is_the_text_that_it_is(text: str) -> None:
    assert load(edited(("place: not stated", f"place: {text}"))).bench.place == text
