"""Every signal of public DBC files, decoded by columns, against cantools frame by frame.

Files: a dozen of `commaai/opendbc` (MIT, see tests/data/README.md): both byte orders, signed values, up to 64 bits,
multiplexing, extended identifiers, CAN FD payloads, value tables. All 119 files of that repository were compared once
in the same way (`python tests/trace/test_trace_opendbc.py FOLDER`): cantools reads 84,
whose 16,810 signals decode alike; 35 are refused by both, each with its line and reason.
"""

import sys
import warnings
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import cantools
import numpy as np
import pytest
from trace_kit import DATA

from interlock.bench.dbc import dbc_text
from interlock.errors import LogError
from interlock.trace.decode import decode
from interlock.trace.layout import MessageLayout, load_dbc

FILES = sorted((DATA / "dbc").glob("*.dbc"))
ROWS = 6


def frames_of(message: cantools.database.Message, random: np.random.Generator) -> np.ndarray:
    """Random payloads, of a multiplexed message some for each value of each selector; [rows, bytes]."""
    size = max(message.length, 1)
    block = [random.integers(0, 256, (ROWS, size), dtype=np.uint8)]
    chosen = {signal.multiplexer_signal for signal in message.signals} - {None}
    for name in sorted(chosen):
        selector = message.get_signal_by_name(name)
        ids = {
            one
            for signal in message.signals
            if signal.multiplexer_signal == name
            for one in signal.multiplexer_ids
        }
        for value in sorted(ids)[:40]:
            rows = random.integers(0, 256, (2, size), dtype=np.uint8)
            block.append(np.array([_with(row, selector, value) for row in rows], np.uint8))
    return np.concatenate(block)


def _with(row: np.ndarray, selector: cantools.database.Signal, value: int) -> list[int]:
    """The payload with the raw value in the selector's bits."""
    order = selector.byte_order
    number = int.from_bytes(row.tobytes(), "little" if order == "little_endian" else "big")
    first = selector.start
    if order == "big_endian":
        sent = 8 * (first // 8) + 7 - first % 8
        first = 8 * len(row) - sent - selector.length
    mask = (1 << selector.length) - 1
    number = number & ~(mask << first) | value << first
    return list(number.to_bytes(len(row), "little" if order == "little_endian" else "big"))


def differences(
    message: cantools.database.Message, layout: MessageLayout, block: np.ndarray
) -> Iterator[str]:
    """Each signal of each frame that cantools sees otherwise; frames that it refuses are left out."""
    mine = decode(layout, block)
    seen = dict.fromkeys(mine, 0)
    for number, row in enumerate(block):
        try:
            theirs = message.decode(row.tobytes()[: message.length], decode_choices=False)
        except (cantools.database.DecodeError, KeyError):
            theirs = None  # a selector value of no signal
        for name, (present, values) in mine.items():
            value = values[seen[name]] if present[number] else None
            seen[name] += bool(present[number])
            if theirs is not None and (name in theirs) != (value is not None):
                yield f"{message.name}.{name}: presence in {row.tobytes().hex()}"
            elif (
                theirs is not None
                and value is not None
                and value != pytest.approx(float(theirs[name]), rel=1e-12)
            ):
                yield f"{message.name}.{name}: {value} is not {theirs[name]} in {row.tobytes().hex()}"


@cache
def layouts_of(path: Path) -> Mapping[int, MessageLayout]:
    return load_dbc(path)


@cache
def database_of(path: Path) -> cantools.database.can.Database:
    database = cantools.database.can.Database()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        database.add_dbc_string(dbc_text(path.read_bytes()))
    return database


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_signal_decodes_as_cantools_does(path: Path) -> None:
    random = np.random.default_rng(len(path.stem))
    layouts, database = layouts_of(path), database_of(path)
    assert len(layouts) == len(database.messages)
    found: list[str] = []
    for message in database.messages:
        layout = layouts[message.frame_id | message.is_extended_frame << 31]
        assert {signal.name for signal in layout.signals} == {signal.name for signal in message.signals}
        found += differences(message, layout, frames_of(message, random))
    assert found == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_names_of_values_are_those_of_cantools(path: Path) -> None:
    layouts = layouts_of(path)
    for message in database_of(path).messages:
        mine = {one.name: one for one in layouts[message.frame_id | message.is_extended_frame << 31].signals}
        for signal in message.signals:
            table = signal.choices or {}
            theirs = {signal.raw_to_scaled(raw, decode_choices=False): str(table[raw]) for raw in table}
            assert mine[signal.name].labels == theirs


def test_the_files_hold_what_they_are_here_for() -> None:
    layouts = [layout for path in FILES for layout in layouts_of(path).values()]
    signals = [signal for layout in layouts for signal in layout.signals]
    assert len(FILES) == 12
    assert sum(layout.extended for layout in layouts) >= 5
    assert max(layout.length for layout in layouts) == 64
    assert max(signal.length for signal in signals) == 64
    assert sum(signal.selector is not None for signal in signals) > 200
    assert 0.2 < np.mean([signal.big_endian for signal in signals]) < 0.8
    assert sum(signal.signed for signal in signals) > 50
    assert sum(bool(signal.labels) for signal in signals) > 1000


def main(folder: Path) -> None:
    """Compare all DBC files below a folder; print what differs and the figures."""
    read, refused, signals, wrong = 0, [], 0, 0
    for path in sorted(folder.rglob("*.dbc")):
        try:
            layouts = load_dbc(path)
        except LogError as error:
            refused.append(str(error))
            continue
        read += 1
        for message in database_of(path).messages:
            layout = layouts[message.frame_id | message.is_extended_frame << 31]
            found = list(differences(message, layout, frames_of(message, np.random.default_rng(1))))
            signals, wrong = signals + len(layout.signals), wrong + len(found)
            print(*found, sep="\n", end="\n" if found else "")
    print(*refused, sep="\n")
    print(f"{read} files read, {len(refused)} refused; {signals} signals, {wrong} values that differ")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
