"""What numbers of a channel mean: scaled, logic by two levels, short levels not known; no level is made up."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import LogError
from interlock.trace import LogFile, QualityKind, load
from interlock.trace.inputs import CsvColumns, Meaning
from interlock.trace.meaning import meant, values_of
from interlock.trace.model import Ledger
from interlock.trace.reading import Reading, Sampled
from interlock.trace.sampled import layout_of, sampled_reading

MS = 1_000_000
NUMBERS = st.lists(st.floats(-30, 30, allow_nan=False), min_size=1, max_size=40)


def stamps(count: int) -> np.ndarray:
    return np.arange(count, dtype=np.int64) * MS


def test_a_scale_by_hand() -> None:
    got = values_of(stamps(3), np.array([0.0, 1.0, -0.5]), Meaning("A", factor=20.0, offset=-1.0))
    assert got.tolist() == [-1.0, 19.0, -11.0]


@given(NUMBERS, st.booleans())
def test_a_level_is_what_its_bounds_say(numbers: list[float], inverted: bool) -> None:
    got = values_of(
        stamps(len(numbers)), np.array(numbers), Meaning("A", levels=(5.0, 15.0), inverted=inverted)
    )
    for number, value in zip(numbers, got.tolist(), strict=True):
        if number >= 15:
            assert value == (0 if inverted else 1)
        elif number <= 5:
            assert value == (1 if inverted else 0)
        else:
            assert np.isnan(value)


def test_negative_levels() -> None:
    """RS-232 as an example: mark below -3 V, space above 3 V (TIA-232-F, from memory)."""
    got = values_of(stamps(3), np.array([-8.0, 0.0, 8.0]), Meaning("A", levels=(-3.0, 3.0)))
    assert got[[0, 2]].tolist() == [0.0, 1.0]
    assert np.isnan(got[1])


def test_a_test_pulse_is_not_known_and_the_line_around_it_stays() -> None:
    levels = np.array([24.0] * 50 + [0.0] * 3 + [24.0] * 50 + [0.0] * 20)
    got = values_of(stamps(len(levels)), levels, Meaning("A", levels=(5.0, 15.0), shortest_ns=5 * MS))
    assert np.isnan(got[50:53]).all()
    assert (got[:50] == 1).all()
    assert (got[53:103] == 1).all()
    assert (got[103:] == 0).all()


@given(st.lists(st.booleans(), min_size=1, max_size=60), st.integers(1, 12))
def test_no_level_is_made_up(bits: list[bool], shortest: int) -> None:
    """Every value is that of its sample or not known; a level that is kept was seen for as long as was asked."""
    numbers = np.array(bits, dtype=np.float64)
    got = values_of(stamps(len(bits)), numbers, Meaning("A", shortest_ns=shortest * MS))
    known = ~np.isnan(got)
    assert (got[known] == numbers[known]).all()
    begin = 0
    for end in range(1, len(bits) + 1):
        if end == len(bits) or bits[end] != bits[begin]:
            assert known[begin:end].all() == (end - 1 - begin >= shortest)
            assert known[begin:end].any() == known[begin:end].all()
            begin = end


def reading(values: dict[str, list[float]], *more: Sampled) -> Reading:
    first = Sampled(
        "x", stamps(len(next(iter(values.values())))), {k: np.array(v) for k, v in values.items()}, {}, False
    )
    groups = (first, *more)
    rows = sum(len(group.times_ns) for group in groups)
    return sampled_reading("vcd", groups, np.arange(rows), Ledger(rows, rows, 0, 0))


def test_channels_get_the_names_that_the_bench_gives() -> None:
    file = LogFile(
        Path("a.vcd"), "lines", meanings={"sto": Meaning("STO (A)"), "load": Meaning("D1", unit="V")}
    )
    (group,) = meant(file, reading({"STO_A": [0, 1], "D1": [2, 3], "D2": [4, 5]})).sampled
    assert group.message == "lines"
    assert {name: values.tolist() for name, values in group.values.items()} == {"sto": [0, 1], "load": [2, 3]}
    assert group.units == {"sto": "", "load": "V"}


def test_a_channel_that_is_not_there_is_an_error_that_lists_those_that_are() -> None:
    file = LogFile(Path("a.vcd"), "lines", meanings={"sto": Meaning("STO")})
    with pytest.raises(LogError, match=r"a\.vcd: no channel of numbers is named 'STO'; it holds D0"):
        meant(file, reading({"D0": [0, 1]}))


@pytest.mark.parametrize(
    ("stated", "meaning", "wrong"),
    [
        ("mV", Meaning("A", "V"), True),
        ("V", Meaning("A", "V", levels=(1.0, 2.0)), False),
        ("mV", Meaning("A", "V", levels=(1.0, 2.0)), True),
        ("V", Meaning("A", "Nm", scaled=True, factor=20.0), False),
        ("", Meaning("A", "V"), False),
        ("mV", Meaning("A"), False),
    ],
)
def test_a_file_that_states_another_unit_is_refused(stated: str, meaning: Meaning, wrong: bool) -> None:
    """A channel in millivolts taken for volts would never reach its level."""
    group = Sampled("x", stamps(1), {"A": np.zeros(1)}, {"A": stated}, False)
    found = sampled_reading("mf4", (group,), np.arange(1), Ledger(1, 1, 0, 0))
    file = LogFile(Path("a.mf4"), "daq", meanings={"a": meaning})
    if wrong:
        with pytest.raises(LogError, match=r"a\.mf4: A is in 'mV' by this file and in 'V'"):
            meant(file, found)
    else:
        assert meant(file, found).sampled[0].units["a"] in {"", "V", "Nm", "mV"}


def test_channels_of_two_rasters_are_two_sources() -> None:
    file = LogFile(Path("a.mf4"), "daq", meanings={"a": Meaning("A"), "b": Meaning("B")})
    other = Sampled("y", stamps(3), {"B": np.zeros(3)}, {}, False)
    with pytest.raises(LogError, match="A and B were not sampled at the same instants"):
        meant(file, reading({"A": [0, 1]}, other))


def test_frames_are_no_signals() -> None:
    file = LogFile(Path("a.log"), "scope", meanings={"a": Meaning("A")})
    frames = replace(reading({"A": [0.0]}), sampled=(), format="candump")
    with pytest.raises(
        LogError, match=r"a\.log: it holds frames \(candump\), and signals are expected of scope"
    ):
        meant(file, frames)


def test_nothing_is_changed_where_nothing_is_said() -> None:
    given_ = reading({"A": [0.0]})
    assert meant(LogFile(Path("a.vcd")), given_) is given_


def test_neither_level_is_no_doubt_but_a_lost_sample_is(tmp_path: Path) -> None:
    """Between the levels the value is merely not known; a cell that is empty is evidence that is missing."""
    plan = CsvColumns({"sto": "A"}, time="t")
    meanings = {"sto": Meaning("A", levels=(5.0, 15.0))}
    path = tmp_path / "a.csv"
    for cell, doubted in (("10", False), ("", True)):
        path.write_text(f"t,A\n0.0,24\n0.1,{cell}\n0.2,0\n")
        trace = load([LogFile(path, "scope", plan, meanings=meanings)], None, messages=[])
        assert np.isnan(trace.signals["scope.sto"].values[1])
        assert [one.kind for one in trace.quality if one.blinds] == [QualityKind.NOT_A_NUMBER] * doubted


def test_a_logic_signal_has_no_range_and_no_numbers_to_doubt() -> None:
    group = Sampled("x", stamps(1), {"a": np.zeros(1), "b": np.zeros(1)}, {}, False, frozenset({"a"}))
    assert {signal.name: signal.is_float for signal in layout_of(group).signals} == {"a": False, "b": True}
