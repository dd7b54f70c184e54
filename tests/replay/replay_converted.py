"""The frames of a sample log written anew in other formats, by python-can or here after the formats' descriptions.

Sources: candump's log and screen forms as can-utils' `lib.c` writes them; ASC as python-can reads and writes it; TRC
after the public description "PEAK CAN TRC File Format"; BLF, CSV and MF4 by python-can itself.
"""

import gzip
import shutil
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import can
import numpy as np
from replay_tape import BENCH_FILE, BITS

from interlock.bench import Bench, load_bench

TORQUE: Final = 0x310  # 1 kHz and no evidence: left out, so that the tests stay short
SAFE: Final = 0x120
EPOCH_US: Final = 1_790_000_000_000_000
DAYS: Final = "46286.592592592592592593"  # the epoch in days since 1899-12-30


@dataclass(frozen=True)
class Frame:
    """One frame; the stamp in microseconds since 1970."""

    us: int
    ident: int
    data: bytes

    @property
    def since_us(self) -> int:
        """Since the epoch of the sample logs."""
        return self.us - EPOCH_US


def frames_of(path: Path) -> list[Frame]:
    """The frames as python-can reads them, stamps rounded to the microsecond (of ASC: since its start)."""
    begin = EPOCH_US if path.suffix == ".asc" else 0
    with can.LogReader(path) as reader:
        return [
            Frame(begin + round(one.timestamp * 1e6), one.arbitration_id, bytes(one.data))
            for one in reader
            if one.arbitration_id != TORQUE
        ]


def candump(frames: Sequence[Frame]) -> str:
    return "".join(
        f"({one.us // 10**6}.{one.us % 10**6:06d}) can0 {one.ident:03X}#{one.data.hex().upper()}\n"
        for one in frames
    )


def screen(frames: Sequence[Frame]) -> str:
    return "".join(
        f" ({one.us // 10**6}.{one.us % 10**6:06d})  can0  {one.ident:03X}   [{len(one.data)}]  "
        f"{one.data.hex(' ').upper()}\n"
        for one in frames
    )


def asc(base: str, stamps: str) -> Callable[[Sequence[Frame]], str]:
    def written(frames: Sequence[Frame]) -> str:
        last, rows = 0, []
        for one in frames:
            us = one.since_us - (last if stamps == "relative" else 0)
            last = one.since_us
            ident = f"{one.ident:X}" if base == "hex" else f"{one.ident}"
            shown = " ".join(f"{byte:02X}" if base == "hex" else f"{byte}" for byte in one.data)
            rows.append(f"{us // 10**6:4d}.{us % 10**6:06d} 1  {ident:15} Rx   d {len(one.data)} {shown}\n")
        head = (
            f"date Mon Sep 21 02:13:20.000 pm 2026\nbase {base}  timestamps {stamps}\ninternal events logged\n"
            "Begin Triggerblock Mon Sep 21 02:13:20.000 pm 2026\n   0.000000 Start of measurement\n"
        )
        return head + "".join(rows) + "End TriggerBlock\n"

    return written


def trc(version: str) -> Callable[[Sequence[Frame]], str]:
    heads = {
        "1.0": ";   Start time: 21.09.2026 14:13:20.0\n",
        "2.0": f";$FILEVERSION=2.0\n;$STARTTIME={DAYS}\n;$COLUMNS=N,O,T,I,d,l,D\n",
        "2.1": f";$FILEVERSION=2.1\n;$STARTTIME={DAYS}\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n",
    }
    rows = {
        "1.0": "{n:6})  {ms:9}  {ident:04X}  {size}  {data}\n",
        "1.1": "{n:6})  {tenths:11.1f}  Rx         {ident:04X}  {size}  {data}\n",
        "1.3": "{n:6})  {exact:13.3f} 1  Rx        {ident:04X} -  {size}    {data}\n",
        "2.0": "{n:7}  {exact:13.3f} DT     {ident:04X} Rx {size}  {data}\n",
        "2.1": "{n:7}  {exact:13.3f} DT 1      {ident:04X} Rx -  {size}    {data}\n",
    }

    def written(frames: Sequence[Frame]) -> str:
        head = heads.get(version, f";$FILEVERSION={version}\n;$STARTTIME={DAYS}\n")
        return head + "".join(
            rows[version].format(
                n=number,
                ms=round(one.since_us / 1000),
                tenths=one.since_us / 1000,
                exact=one.since_us / 1000,
                ident=one.ident,
                size=len(one.data),
                data=one.data.hex(" ").upper(),
            )
            for number, one in enumerate(frames, 1)
        )

    return written


TEXTS: Final[dict[str, tuple[str, Callable[[Sequence[Frame]], str], int]]] = {
    "candump": ("log", candump, 1000),
    "candump, screen": ("txt", screen, 1000),
    "asc": ("asc", asc("hex", "absolute"), 1000),
    "asc, decimal": ("asc", asc("dec", "absolute"), 1000),
    "asc, relative": ("asc", asc("hex", "relative"), 1000),
    "trc 1.0": ("trc", trc("1.0"), 1_000_000),
    "trc 1.1": ("trc", trc("1.1"), 100_000),
    "trc 1.3": ("trc", trc("1.3"), 1000),
    "trc 2.0": ("trc", trc("2.0"), 1000),
    "trc 2.1": ("trc", trc("2.1"), 1000),
}
"""By name: suffix, writer, and nanoseconds of one step of its stamps."""
WRITERS: Final = {"blf": can.BLFWriter, "csv": can.CSVWriter, "mf4": can.MF4Writer}


def converted(frames: Sequence[Frame], form: str, folder: Path, *, packed: bool = False) -> Path:
    """A file of the frames in that format."""
    if form in WRITERS:
        path = folder / f"run.{form}"
        with WRITERS[form](path) as writer:
            begin_s = (
                writer.last_timestamp - EPOCH_US / 1e6 if form == "mf4" else 0.0
            )  # it counts from its own making
            for one in frames:
                stamp = begin_s + one.us / 1e6
                message = can.Message(
                    timestamp=stamp, arbitration_id=one.ident, data=one.data, is_extended_id=False, channel=0
                )
                writer.on_message_received(message)
    else:
        suffix, write, _ = TEXTS[form]
        path = folder / f"run.{suffix}"
        path.write_text(write(frames), newline="\n")
    if not packed:
        return path
    small = path.with_name(f"{path.name}.gz")
    small.write_bytes(gzip.compress(path.read_bytes(), 1))
    return small


# ---- the state's bits as decoded signals of another recorder ---------------------------------------------------------


def bits_of(frames: Sequence[Frame]) -> tuple[list[int], dict[str, list[int]]]:
    """Microseconds since the first frame of the log, and the bits, of each frame of the state."""
    state = [one for one in frames if one.ident == SAFE]
    values = {name: [one.data[byte] >> bit & 1 for one in state] for name, (byte, bit) in BITS.items()}
    return [one.us - frames[0].us for one in state], values


def bits_as_table(frames: Sequence[Frame], path: Path) -> Path:
    """As a recorder with a decimal comma and semicolons exports them."""
    stamps, values = bits_of(frames)
    rows = zip(stamps, *values.values(), strict=True)
    text = "".join(f"{us // 10**6},{us % 10**6:06d};{';'.join(map(str, bits))}\n" for us, *bits in rows)
    path.write_text(f"Zeit;{';'.join(values)}\n[s];{';'.join('' for _ in values)}\n{text}")
    return path


def bits_as_vcd(frames: Sequence[Frame], path: Path) -> Path:
    """Their changes, as IEEE 1364 has it."""
    stamps, values = bits_of(frames)
    codes = dict(zip(values, "abcdefghijk", strict=False))
    wires = "".join(f"$var wire 1 {code} {name} $end\n" for name, code in codes.items())
    lines = [f"$timescale 1 us $end\n{wires}$enddefinitions $end\n"]
    last: dict[str, int] = {}
    for at, us in enumerate(stamps):
        new = {name: row[at] for name, row in values.items() if last.get(name) != row[at]}
        if new or at == len(stamps) - 1:
            lines.append(f"#{us}\n" + "".join(f"{bit}{codes[name]}\n" for name, bit in new.items()))
        last.update(new)
    path.write_text("".join(lines))
    return path


def bits_as_capture(frames: Sequence[Frame], path: Path, rate_hz: int = 20_000) -> Path:
    """As a logic analyser samples them, beginning at the first frame of the log."""
    stamps, values = bits_of(frames)
    words = sum(np.array(row) << k for k, row in enumerate(values.values()))
    times = np.arange(stamps[0] * rate_hz // 10**6 + 1, stamps[-1] * rate_hz // 10**6)
    at = np.searchsorted(stamps, times * (10**6 // rate_hz), side="right") - 1
    held = np.concatenate([np.repeat(words[:1], times[0]), words[at]]).astype("<u2")
    names = "".join(f"probe{k + 1}={name}\n" for k, name in enumerate(values))
    meta = f"[device 1]\ncapturefile=logic-1\ntotal probes={len(values)}\nsamplerate={rate_hz} Hz\nunitsize=2\n{names}"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("version", "2")
        archive.writestr("metadata", meta)
        archive.writestr("logic-1-1", held.tobytes())
    return path


def bench_of_bits(kind: str, folder: Path) -> tuple[Path, Bench]:
    """The sample bench with the state's bits by a source `state` that began with the log's first frame."""
    signals = ", ".join(f"{name}: {name}" for name in BITS)
    rows = "      period: 10 ms\n      longest_gap: 35 ms\n"
    table = "      table: {time: Zeit, units: 2, separator: semicolon, decimal: comma}\n"
    source = (
        f"  sources:\n    logger: {{kind: can}}\n    state:\n      kind: {kind}\n"
        f"{table + rows if kind == 'table' else ''}      signals: {{{signals}}}\n"
        "      clock: {drift: 0 ppm, offset: {least: 0 s, most: 0 s}}\n"
    )
    text = BENCH_FILE.read_text(encoding="utf-8")
    shows = text.index("  states:")
    text = text[:shows] + text[shows:].replace("SAFE_State.", "state.")
    file = folder / "bench.yaml"
    file.write_text(text.replace("  messages:\n", f"{source}  messages:\n", 1), encoding="utf-8")
    shutil.copy(BENCH_FILE.parent / "bench.dbc", folder)
    return file, load_bench(file)
