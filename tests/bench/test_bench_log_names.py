"""What a bench says of its log against the DBC: names, units, bounds that decide nothing; and the DBC itself."""

from pathlib import Path

import cantools
import pytest
from bench_sample import FOLDER, MARK, check, edited, load
from hypothesis import example, given
from hypothesis import strategies as st

from interlock.bench import parse_bench
from interlock.bench.dbc import read_dbc
from interlock.bench.decides import check_decides
from interlock.bench.observe import parse_condition
from interlock.bench.refusal import Refusal
from interlock.errors import BenchError

DBC = (FOLDER / "bench.dbc").read_text(encoding="cp1252")

NAMES = {
    "message": (
        "    PSU_Bus: {period: 10 ms, longest_gap: 35 ms, uncertain: {BusVoltage: 0.1 V}}",
        "    PSU_Bus: {period: 10 ms, longest_gap: 35 ms, uncertain: {BusVoltage: 0.1 V}}\n"
        "    ‸PSU_Buss: {period: 10 ms, longest_gap: 35 ms}",
        "message 'PSU_Buss': the DBC has no message of this name; did you mean PSU_Bus?",
    ),
    "message_far": (
        "    PSU_Bus: {period: 10 ms, longest_gap: 35 ms, uncertain: {BusVoltage: 0.1 V}}",
        "    PSU_Bus: {period: 10 ms, longest_gap: 35 ms, uncertain: {BusVoltage: 0.1 V}}\n"
        "    ‸X: {period: 10 ms, longest_gap: 35 ms}",
        "message 'X': the DBC has no message of this name; "
        "write one of CTL_Refs, DRV_Actual, LOD_Actual, PSU_Bus, SAFE_State, TQS_Torque",
    ),
    "alive": (
        "alive: Alive",
        "alive: ‸Aliv",
        "signal 'Aliv': the DBC has no signal of this name in the message; did you mean Alive?",
    ),
    "modulo": (
        "alive_modulo: 256",
        "alive_modulo: ‸257",
        "alive_modulo: 'Alive' has 8 bits and never reaches 256; write 256 or less",
    ),
    "moves": (
        "moves: {DrvCurrent: 60 ms",
        "moves: {‸DrvCurent: 60 ms",
        "signal 'DrvCurent': the DBC has no signal of this name in the message; did you mean DrvCurrent?",
    ),
    "uncertain": (
        "uncertain: {DrvCurrent: 0.1 A",
        "uncertain: {‸Current: 0.1 A",
        "signal 'Current': the DBC has no signal of this name in the message; did you mean DrvCurrent?",
    ),
    "state": (
        "SAFE_State.CoverA is 1",
        "‸SAFE_State.CoverX is 1",
        "signal 'CoverX': the DBC has no signal of this name in the message; did you mean CoverB or CoverA?",
    ),
    "value": (
        "bus.voltage: PSU_Bus.BusVoltage",
        "bus.voltage: ‸PSU_Bus.Voltage",
        "signal 'Voltage': the DBC has no signal of this name in the message; did you mean BusVoltage?",
    ),
}

UNITS = {
    "milli": ("> 0.3 A", "> 0.3 ‸mA", "unit 'mA': the DBC gives DrvCurrent in 'A'; write the number in A"),
    "other": ("> 0.3 A", "> 0.3 ‸V", "unit 'V': the DBC gives DrvCurrent in 'A'; write the number in A"),
    "none": (
        '"|DRV_Actual.DrvCurrent| > 0.3 A"',
        '‸"|DRV_Actual.DrvCurrent| > 0.3"',
        "no unit for 'DrvCurrent': the DBC gives DrvCurrent in 'A'; write the number in A",
    ),
    "one_too_many": (
        "SAFE_State.CoverA is 1",
        "SAFE_State.CoverA is 1 ‸A",
        "unit 'A': the DBC gives CoverA no unit; write the number without unit",
    ),
    "uncertain": (
        "uncertain: {DrvCurrent: 0.1 A",
        "uncertain: {DrvCurrent: 0.1 ‸V",
        "unit 'V': the DBC gives DrvCurrent in 'A'; write the number in A",
    ),
    "value": (
        "bus.voltage: PSU_Bus.BusVoltage",
        "bus.voltage: ‸PSU_Bus.BusCurrent",
        "'PSU_Bus.BusCurrent': the DBC gives it in 'A', and bus.voltage is a value in 'V'; "
        "name a signal in V, or mend the DBC",
    ),
    "value_without": (
        "bus.voltage: PSU_Bus.BusVoltage",
        "bus.voltage: ‸DRV_Actual.DrvStatus",
        "'DRV_Actual.DrvStatus': the DBC gives it in '', and bus.voltage is a value in 'V'; "
        "name a signal in V, or mend the DBC",
    ),
}

DECIDES = {
    "is_beyond": (
        "SAFE_State.CoverA is 1",
        "SAFE_State.CoverA is ‸2",
        "'is 2': the signal goes from 0 to 1, so this is never so; write a value that it takes",
    ),
    "never": (
        "> 0.3 A",
        "> ‸400 A",
        "'> 400': the signal goes from 0 to 327.68, so this is never so; write a bound that it can cross",
    ),
    "always": (
        "> 0.3 A",
        ">= ‸0 A",
        "'>= 0': the signal goes from 0 to 327.68, so this is always so; write a bound that it can cross",
    ),
    "between_steps": (
        "> 0.3 A",
        "is ‸0.305 A",
        "'is 0.305': the signal, in steps of 0.01, is never exactly so; write a value that it takes",
    ),
}


@pytest.mark.parametrize("case", NAMES)
def test_names(case: str) -> None:
    old, new, said = NAMES[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize("case", UNITS)
def test_units(case: str) -> None:
    old, new, said = UNITS[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize("case", DECIDES)
def test_comparisons_that_decide_nothing(case: str) -> None:
    old, new, said = DECIDES[case]
    check(edited((old, new)), said)


def test_a_status_word_needs_no_unit() -> None:
    shows = load(edited()).shows
    assert shows is not None
    assert str(shows.values["drive.status"]) == "DRV_Actual.DrvStatus"


def test_a_misspelt_message_is_said_with_what_follows_from_it() -> None:
    text = edited(
        ("    SAFE_State: {per", f"    {MARK}SAFE_States: {{per"), ("cover.a: SAFE", f"cover.a: {MARK}SAFE")
    )
    check(
        text,
        "message 'SAFE_States': the DBC has no message of this name; did you mean SAFE_State?",
        "message 'SAFE_State': it is not listed under messages, with its period and longest gap; "
        "did you mean SAFE_States?",
    )


# ---- the DBC itself ----------------------------------------------------------------------------------------


def with_dbc(folder: Path, text: str | bytes) -> str:
    """The only problem of the sample beside a DBC with this text."""
    data = text if isinstance(text, bytes) else text.encode("cp1252")
    (folder / "bench.dbc").write_bytes(data)
    with pytest.raises(BenchError) as caught:
        parse_bench("bench.yaml", edited(), folder=folder)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (69, 8)  # the value of `dbc`
    return f"{problem.what}: {problem.why}; {problem.instead}"


def test_no_dbc(tmp_path: Path) -> None:
    with pytest.raises(BenchError) as caught:
        parse_bench("bench.yaml", edited(), folder=tmp_path)
    assert str(caught.value) == (
        "bench.yaml:69:8: 'bench.dbc': the DBC cannot be read (No such file or directory); "
        "name a DBC file beside this one"
    )


@pytest.mark.parametrize(
    ("dbc", "why"),
    [
        (
            "bench.yaml",
            "it is no sound DBC (line 1, column 1 cannot be read); mend the DBC, or export it anew",
        ),
        (".", "the DBC cannot be read (Is a directory); name a DBC file beside this one"),
        (
            "no/such/folder.dbc",
            "the DBC cannot be read (No such file or directory); name a DBC file beside this one",
        ),
    ],
)
def test_a_dbc_that_is_none(dbc: str, why: str) -> None:
    check(edited(("dbc: bench.dbc", f"dbc: {MARK}{dbc}")), f"'{dbc}': {why}")


def test_a_broken_line_of_the_dbc_is_named(tmp_path: Path) -> None:
    text = DBC.replace('SG_ CoverB : 1|1@1+ (1,0) [0|1] "" LOG', 'SG_ CoverB : 1|1@1+ (1;0) [0|1] "" LOG')
    # the line and column are those of the DBC: its sixth line is that of CoverA
    assert with_dbc(tmp_path, text).startswith(
        "'bench.dbc': it is no sound DBC (line 7, column 24 cannot be read)"
    )


def test_signals_that_overlap_are_refused(tmp_path: Path) -> None:
    said = with_dbc(tmp_path, DBC.replace("SG_ CoverB : 1|1@1+", "SG_ CoverB : 0|1@1+"))
    assert "overlapping" in said
    assert "SAFE_State" in said


def test_two_messages_of_one_name_are_refused(tmp_path: Path) -> None:
    said = with_dbc(tmp_path, DBC.replace("BO_ 832 PSU_Bus", "BO_ 832 CTL_Refs"))
    assert said == "'bench.dbc': two messages of the DBC have the name 'CTL_Refs'; keep one of them"


def test_two_messages_of_one_identifier_are_refused(tmp_path: Path) -> None:
    said = with_dbc(tmp_path, DBC.replace("BO_ 832 PSU_Bus", "BO_ 515 PSU_Bus"))
    assert said == "'bench.dbc': two messages of the DBC have the identifier '0x203'; keep one of them"


def test_one_identifier_in_both_formats_is_allowed(tmp_path: Path) -> None:
    extended = DBC.replace("BO_ 832 PSU_Bus", f"BO_ {515 | 1 << 31} PSU_Bus")  # bit 31: extended, as in a DBC
    (tmp_path / "bench.dbc").write_text(extended, encoding="cp1252")
    parse_bench("bench.yaml", edited(), folder=tmp_path)


def test_two_signals_of_one_name_are_refused(tmp_path: Path) -> None:
    said = with_dbc(tmp_path, DBC.replace("SG_ CoverB ", "SG_ CoverA "))
    assert "The signals CoverA and CoverA are overlapping in message SAFE_State" in said  # by cantools


def test_a_byte_outside_the_code_page_is_said(tmp_path: Path) -> None:
    said = with_dbc(tmp_path, b'VERSION "\x81"\n' + DBC.encode("cp1252"))
    assert said == (
        "'bench.dbc': its byte 9 is no character in Windows-1252, as a DBC file is written; export the DBC anew"
    )


@given(st.data())
def test_any_damage_to_a_dbc_is_refused_or_read(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    raw = bytearray(DBC.encode("cp1252"))
    for _ in range(data.draw(st.integers(1, 3))):
        lo = data.draw(st.integers(0, len(raw) - 1))
        hi = min(len(raw), lo + data.draw(st.integers(0, 30)))
        raw[lo:hi] = data.draw(st.binary(max_size=3))
    path = tmp_path_factory.getbasetemp() / "damaged.dbc"
    path.write_bytes(bytes(raw))
    try:
        assert read_dbc(path).messages is not None
    except Refusal as refusal:
        assert str(refusal).isprintable()
        assert len(str(refusal)) < 400


def signal_of(length: int, signed: bool, scale: str, offset: str) -> object:
    sign = "-" if signed else "+"
    text = f'VERSION ""\nBO_ 1 M: 8 X\n SG_ S : 0|{length}@1{sign} ({scale},{offset}) [0|0] "" X\n'
    return cantools.database.load_string(text, "dbc").messages[0].signals[0]


@given(
    st.integers(1, 6),
    st.booleans(),
    st.sampled_from(["1", "0.5", "0.1", "-0.25", "3"]),
    st.sampled_from(["0", "-10", "0.1"]),
    st.sampled_from(["is", "<", "<=", ">", ">="]),
    st.booleans(),
    st.integers(-200, 200).map(lambda n: n / 10),
)
@example(1, False, "0.1", "0", "is", True, -0.1)  # no magnitude is negative
def test_it_is_said_exactly_if_all_values_agree(
    length: int, signed: bool, scale: str, offset: str, operator: str, magnitude: bool, bound: float
) -> None:
    """Against every raw value decoded by cantools, the reference decoder."""
    signal = signal_of(length, signed, scale, offset)
    name = "|M.S|" if magnitude else "M.S"
    (comparison,) = parse_condition(f"{name} {operator} {bound}").comparisons
    raws = range(-(2 ** (length - 1)), 2 ** (length - 1)) if signed else range(2**length)
    values = [float(signal.raw_to_scaled(raw)) for raw in raws]
    shown = [abs(value) for value in values] if magnitude else values
    answers = {
        {
            "is": value == bound,
            "<": value < bound,
            "<=": value <= bound,
            ">": value > bound,
            ">=": value >= bound,
        }[operator]
        for value in shown
    }
    said = list(check_decides(("shows",), comparison, signal))
    spans_zero = any(value < 0 for value in values) and any(value > 0 for value in values)
    if magnitude and spans_zero and operator != "is" and 0.0 not in shown:
        return  # the magnitude's true least is not at an end; nothing is said unless both ends agree
    assert bool(said) == (len(answers) == 1 and (operator != "is" or answers == {False}))


def test_nothing_is_said_of_a_floating_point_signal() -> None:
    text = (
        'VERSION ""\nBO_ 1 M: 8 X\n SG_ S : 0|32@1- (1,0) [0|0] "" X\n'
        "SIG_VALTYPE_ 1 S : 1;\n"  # 1: a 32-bit IEEE float, as DBC files say it
    )
    signal = cantools.database.load_string(text, "dbc").messages[0].signals[0]
    (comparison,) = parse_condition("M.S > 1000000000000").comparisons
    assert signal.is_float
    assert list(check_decides(("shows",), comparison, signal)) == []
