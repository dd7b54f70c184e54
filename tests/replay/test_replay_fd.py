"""The same run over another bus: FD frames, extended identifiers, big-endian signals, two buses in one file.

The frames of a sample log are put into other frames, and the DBC is changed in step; the findings must not change.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import can
import pytest
from replay_converted import Frame, converted, frames_of
from replay_tape import BENCH_FILE

from interlock.bench import load_bench
from interlock.replay import Finding, Judgement, replay
from interlock.verdict import Verdict

DBC: Final = (BENCH_FILE.parent / "bench.dbc").read_text(encoding="cp1252")
STATE, REFS, BUS = 0x120, 0x203, 0x340
WIDE_STATE: Final = 0x18F00120


@pytest.fixture(scope="module")
def frames(samples: Path) -> list[Frame]:
    return frames_of(samples / "sound.blf")


@pytest.fixture(scope="module")
def plain(frames: list[Frame], tmp_path_factory: pytest.TempPathFactory) -> Judgement:
    folder = tmp_path_factory.mktemp("plain")
    return replay(BENCH_FILE, load_bench(BENCH_FILE), [converted(frames, "candump", folder)])


def dbc_with(*changes: tuple[str, str]) -> str:
    text = DBC
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


LONG: Final = dbc_with(
    ("BO_ 288 SAFE_State: 8", f"BO_ {WIDE_STATE | 1 << 31} SAFE_State: 12"),
    ("BO_ 515 CTL_Refs: 8", "BO_ 515 CTL_Refs: 64"),
    ("BusVoltage : 0|16@1+", "BusVoltage : 7|16@0+"),
)


def message(one: Frame) -> can.Message:
    """The frame as the other bus carries it."""
    data, fd = one.data, one.ident in (STATE, REFS)
    if one.ident == STATE:
        data = data.ljust(12, b"\0")
    elif one.ident == REFS:
        data = data.ljust(64, b"\0")
    elif one.ident == BUS:
        data = data[1::-1] + data[2:]
    return can.Message(
        timestamp=one.us / 1e6,
        arbitration_id=WIDE_STATE if one.ident == STATE else one.ident,
        is_extended_id=one.ident == STATE,
        is_fd=fd,
        bitrate_switch=fd,
        data=data,
        channel=1 if one.ident == BUS else 0,
    )


def written(messages: Sequence[can.Message], suffix: str, folder: Path) -> Path:
    path = folder / f"run.{suffix}"
    with {"blf": can.BLFWriter, "asc": can.ASCWriter, "log": can.CanutilsLogWriter}[suffix](path) as writer:
        for one in messages:
            writer.on_message_received(one)
    return path


def bench_in(folder: Path, dbc: str, change: Callable[[str], str] = lambda text: text) -> Path:
    (folder / "bench.dbc").write_text(dbc, encoding="cp1252")
    file = folder / "bench.yaml"
    file.write_text(change(BENCH_FILE.read_text(encoding="utf-8")), encoding="utf-8")
    return file


def rows(said: Judgement) -> list[tuple[str, str, str, str, int | None, int | None]]:
    """Each finding, its latency to a hundredth of a millisecond."""
    return [_row(one) for one in said.findings]


def _row(one: Finding) -> tuple[str, str, str, str, int | None, int | None]:
    latency = one.latency
    lo, hi = (None, None) if latency is None else (latency.lo, latency.hi)
    return one.function, one.subject, one.effect, str(one.verdict), _rounded(lo), _rounded(hi)


def _rounded(ns: int | None) -> int | None:
    return None if ns is None else round(ns / 10_000)


def alike(said: Judgement, other: Judgement) -> bool:
    pairs = zip(rows(said), rows(other), strict=True)
    return all(
        a[:4] == b[:4] and all(_near(x, y) for x, y in zip(a[4:], b[4:], strict=True)) for a, b in pairs
    )


def _near(one: int | None, other: int | None) -> bool:
    return one == other or (one is not None and other is not None and abs(one - other) <= 1)


@pytest.mark.parametrize("suffix", ["blf", "asc", "log"])
def test_long_and_extended_frames_say_the_same(
    suffix: str, frames: list[Frame], plain: Judgement, tmp_path: Path
) -> None:
    file = bench_in(tmp_path, LONG)
    log = written([message(one) for one in frames], suffix, tmp_path)
    said = replay(file, load_bench(file), [log])
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    assert alike(said, plain)


def test_a_standard_identifier_is_not_the_extended_one(frames: list[Frame], tmp_path: Path) -> None:
    """The should-fail twin: the DBC says 29 bits, the log holds 11; nothing is read as the other."""
    file = bench_in(tmp_path, dbc_with(("BO_ 288 SAFE_State", f"BO_ {0x120 | 1 << 31} SAFE_State")))
    said = replay(file, load_bench(file), [converted(frames, "candump", tmp_path)])
    assert said.verdict in (Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED)
    assert any("no frame of SAFE_State" in one.sentence for one in said.findings)


@pytest.mark.parametrize("suffix", ["blf", "log"])
def test_a_message_that_comes_over_two_buses_needs_its_bus(
    suffix: str, frames: list[Frame], plain: Judgement, tmp_path: Path
) -> None:
    """A gateway sends the state on to a second bus, 2 ms later: without a bus named it is in doubt."""
    both = [message(one) for one in frames]
    copies = [
        can.Message(
            timestamp=one.timestamp + 0.002,
            arbitration_id=one.arbitration_id,
            is_extended_id=True,
            is_fd=True,
            bitrate_switch=True,
            data=one.data,
            channel=1,
        )
        for one in both
        if one.arbitration_id == WIDE_STATE
    ]
    log = written(sorted([*both, *copies], key=lambda one: one.timestamp), suffix, tmp_path)
    bus = {"blf": "1", "log": "can0"}[suffix]
    unsure = bench_in(tmp_path, LONG)
    assert replay(unsure, load_bench(unsure), [log]).verdict is Verdict.INCONCLUSIVE
    file = bench_in(
        tmp_path, LONG, lambda text: text.replace("SAFE_State: {", f"SAFE_State: {{bus: '{bus}', ", 1)
    )
    said = replay(file, load_bench(file), [log])
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    assert alike(said, plain)
    other = bench_in(tmp_path, LONG, lambda text: text.replace("SAFE_State: {", "SAFE_State: {bus: '7', ", 1))
    missing = replay(other, load_bench(other), [log])
    told = [
        one.sentence
        for one in missing.findings
        if "no frame of SAFE_State on the bus 7 (it has" in one.sentence
    ]
    assert told
    assert bus in told[0]
    assert missing.verdict is not Verdict.PASS
