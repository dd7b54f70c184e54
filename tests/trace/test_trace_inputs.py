"""What is said of a file: contradictions are refused at once, names become ones that a bench can write."""

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench.observe import parse_signal
from interlock.errors import LogError
from interlock.trace import CsvColumns, LogFile
from interlock.trace.inputs import plain_name

CH1 = {"STO_A": "CH1"}


@pytest.mark.parametrize(
    ("wrong", "reason"),
    [
        ({}, "either the time column or the period"),
        ({"time": 1, "period_s": Fraction(1)}, "either the time column or the period"),
        ({"time": 1, "time_unit": "min"}, "time unit"),
        ({"time": 1, "delimiter": ", "}, "one character each"),
        ({"time": 1, "delimiter": ",", "decimal": ","}, "one character each"),
        ({"time": 1, "decimal": "'"}, "one character each"),
        ({"time": 1, "signals": {}}, "at least one signal"),
        ({"time": 1, "first_row": 0}, "headings stand above"),
        ({"time": 1, "heading_row": 2}, "headings stand above"),
        ({"time": 1, "heading_row": -1}, "headings stand above"),
        ({"period_s": Fraction(0)}, "more than zero"),
    ],
)
def test_contradictions_are_refused(wrong: dict[str, object], reason: str) -> None:
    with pytest.raises(LogError, match=reason):
        CsvColumns(**{"signals": CH1, **wrong})  # type: ignore[arg-type]  # the wrong types are the point


@pytest.mark.parametrize(("unit", "ns"), [("s", 10**9), ("ms", 10**6), ("us", 1000), ("µs", 1000), ("ns", 1)])
def test_units_of_time(unit: str, ns: int) -> None:
    assert CsvColumns(CH1, time=1, time_unit=unit).unit_ns == ns


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("STO_A", "STO_A"),
        ("STEP (Y axis)", "STEP_Y_axis"),
        ("3", "s_3"),
        ("", "unnamed"),
        ("_ _", "unnamed"),
        ("Drehmoment [N·m]", "Drehmoment_N_m"),
        ("größe", "gr_e"),
    ],
)
def test_plain_names(text: str, name: str) -> None:
    assert plain_name(text) == name


@given(st.text(max_size=30))
def test_a_bench_description_can_write_every_plain_name(text: str) -> None:
    parsed = parse_signal(f"{plain_name(text)}.{plain_name(text)}")
    assert parsed.signal == plain_name(text) == plain_name(plain_name(text))


def test_message_of_a_file() -> None:
    assert LogFile(Path("a/scope one.csv.gz")).message == "scope_one"
    assert LogFile(Path("a/scope.csv"), "STO").message == "STO"


def test_wanted_by_either_name() -> None:
    file = LogFile(Path("a.sr"), wanted=("STEP_Y_axis", "EN", "Q"))
    assert file.wants("STEP (Y axis)")
    assert file.wants("EN")
    assert not file.wants("TX")
    assert file.lacks(["STEP (Y axis)", "EN", "TX"]) == ["Q"]
    assert LogFile(Path("a.sr")).wants("TX")
