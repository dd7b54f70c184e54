"""Definitions of value change dumps (IEEE 1364-2005, 18.2): time step, wires, names; and the values a wire can have."""

import math
from fractions import Fraction
from pathlib import Path

import pytest

from interlock.errors import LogError
from interlock.trace.inputs import LogFile
from interlock.trace.lines import split
from interlock.trace.vcd_header import Header, Wire, header_of, looks_like

FILE = LogFile(Path("a.vcd"))
SCALE = "$timescale 1 ns $end\n"
END = "$enddefinitions $end\n"
WIRE = "$var wire 1 ! EN $end\n"


def header(text: str, *wanted: str) -> Header:
    return header_of(LogFile(Path("a.vcd"), wanted=wanted), split(text.encode()))


@pytest.mark.parametrize(
    ("scale", "step"),
    [
        ("$timescale 1 s $end", Fraction(1)),
        ("$timescale 10ms $end", Fraction(1, 100)),
        ("$timescale\n  100 us\n$end", Fraction(1, 10**4)),
        ("$timescale 1ns $end", Fraction(1, 10**9)),
        ("$timescale 10 ps $end", Fraction(1, 10**11)),
        ("$timescale 1fs $end", Fraction(1, 10**15)),
    ],
)
def test_time_steps(scale: str, step: Fraction) -> None:
    assert header(f"{scale}\n{WIRE}{END}").step_s == step


def test_wires_scopes_and_the_first_line_of_the_body() -> None:
    text = (
        f"$date today $end\n$version a recorder $end\n$comment hm $end\n{SCALE}"
        "$scope module top $end\n$var wire 1 ! EN $end\n$var reg 8 #a POS [7:0] $end\n$var real 64 % U $end\n"
        f"$scope module sub $end\n$var wire 1 & EN $end\n$upscope $end\n$upscope $end\n{END}#0\n"
    )
    found = header(text)
    assert [(code, wire.name, wire.bits, wire.real) for code, wire in found.wires.items()] == [
        (b"!", "top_EN", 1, False),
        (b"#a", "POS", 8, False),
        (b"%", "U", 64, True),
        (b"&", "top_sub_EN", 1, False),
    ]
    assert text.splitlines()[found.body_row] == "#0"


def test_only_wanted_wires_are_marked() -> None:
    found = header(SCALE + WIRE + '$var wire 1 " STEP $end\n' + END, "STEP")
    assert [(wire.name, wire.wanted) for wire in found.wires.values()] == [("EN", False), ("STEP", True)]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (WIRE + END, "without a readable"),
        ("$timescale 2 ns $end\n" + WIRE + END, "without a readable"),
        ("$timescale 1 min $end\n" + WIRE + END, "without a readable"),
        (SCALE + END, "no wire named at all"),
        (SCALE + WIRE, "definitions do not end"),
        ("", "definitions do not end"),
        (SCALE + "$var wire x ! EN $end\n" + END, "no wire named at all"),
    ],
)
def test_definitions_that_do_not_say_enough(text: str, reason: str) -> None:
    with pytest.raises(LogError, match=reason):
        header(text)


def test_a_wanted_wire_that_is_not_there_is_an_error_that_names_those_that_are() -> None:
    with pytest.raises(LogError, match=r"no wire named STO; the dump has: EN"):
        header(SCALE + WIRE + END, "STO")


@pytest.mark.parametrize(
    ("bits", "real", "value", "number"),
    [
        (1, False, b"0", 0.0),
        (1, False, b"1", 1.0),
        (8, False, b"b1010", 10.0),
        (8, False, b"B00001010", 10.0),
        (8, True, b"r1.25", 1.25),
        (8, True, b"R-1e3", -1000.0),
        (1, False, b"b10", None),
        (1, False, b"r1", None),
        (8, True, b"b1", None),
        (8, True, b"rx", None),
        (8, False, b"b", None),
        (8, False, b"b12", None),
        (8, False, b"", None),
        (8, True, b"r1_0", None),
        (2000, False, b"b" + b"1" * 1023, float(2**1023)),
        (2000, False, b"b" + b"1" * 1024, math.inf),
        (2000, False, b"b" + b"0" * 1500 + b"11", 3.0),
    ],
)
def test_values_of_a_wire(bits: int, real: bool, value: bytes, number: float | None) -> None:
    assert Wire("EN", bits, real, True).number(value) == number


@pytest.mark.parametrize("value", [b"x", b"Z", b"b1x0", b"bzzzz"])
def test_unknown_and_undriven_levels_are_no_number(value: bytes) -> None:
    number = Wire("EN", 4, False, True).number(value)
    assert number is not None
    assert math.isnan(number)


def test_looks_like_a_dump() -> None:
    assert looks_like(b"$date\n today\n$end\n$timescale 1 ns $end\n")
    assert looks_like(b"\n  $var wire 1 ! EN $end\n")
    assert not looks_like(b"(1790000000.000100) can0 120#0102 R\n")
    assert not looks_like(b"$ what is $timescale?"[:2])


def test_bits_of_one_name_are_told_apart_by_their_index() -> None:
    bits = "$var wire 1 a POS [0] $end\n$var wire 1 b POS[1] $end\n$var wire 4 c WIDE [3:0] $end\n"
    found = header(SCALE + bits + END)
    assert [wire.name for wire in found.wires.values()] == ["POS_0", "POS_1", "WIDE"]


def test_what_stands_behind_a_name_is_no_part_of_it() -> None:
    found = header(SCALE + "$var wire 1 ! EN and more $end\n" + END)
    assert [wire.name for wire in found.wires.values()] == ["EN"]


def test_two_wires_of_one_name_are_never_taken_for_one() -> None:
    twice = "$var wire 1 a EN $end\n$var wire 1 b EN $end\n"
    with pytest.raises(LogError, match=r"a\.vcd: two wires are both called EN_?; name them apart"):
        header(SCALE + twice + END)
    assert header(SCALE + twice + WIRE.replace("EN", "STEP") + END, "STEP").wires[b"!"].wanted
