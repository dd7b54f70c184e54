"""A frame whose checksum is wrong is no evidence: neither for a pass nor against the bench.

The sample log (see tests/data/README.md of the samples) with a checksum put in by crccheck, a general-purpose library:
CRC-16/CCITT-FALSE over all but its own bytes, then the data id, low byte first (AUTOSAR E2E profile 5).
"""

import shutil
from pathlib import Path

import crccheck.crc
import pytest

from interlock.bench import load_bench
from interlock.replay import Judgement, replay
from interlock.trace import QualityKind
from interlock.trace.readers import read_log
from interlock.verdict import Verdict

HERE = Path(__file__).parents[1]
BENCH = HERE / "benches" / "sample"
DATA_ID = 0x1A2B
SAFE_STATE = 0x120
PROTECTED = "alive: Alive, alive_modulo: 256, e2e: {profile: P05, checksum: Crc, data_id: 1A2Bh}"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample bench with and without the check, and the DBC with the signal of the checksum."""
    folder = tmp_path_factory.mktemp("e2e")
    dbc = (BENCH / "bench.dbc").read_text(encoding="cp1252")
    with_crc = dbc.replace(" SG_ Alive :", ' SG_ Crc : 40|16@1+ (1,0) [0|65535] "" LOG\n SG_ Alive :')
    (folder / "bench.dbc").write_text(with_crc, encoding="cp1252")
    shutil.copy(BENCH / "bench.yaml", folder / "plain.yaml")
    text = (BENCH / "bench.yaml").read_text(encoding="utf-8")
    assert "alive: Alive, alive_modulo: 256" in text
    checked = text.replace("alive: Alive, alive_modulo: 256", PROTECTED)
    (folder / "checked.yaml").write_text(checked, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def frames() -> list[tuple[int, int, bytes]]:
    """Time, identifier and payload of each frame of the sample, the safety state with its checksum."""
    columns = read_log(HERE / "data" / "samples" / "sound.blf")[0].columns
    rows = zip(
        columns.times_ns.tolist(),
        columns.idents.tolist(),
        columns.lengths.tolist(),
        columns.data,
        strict=True,
    )
    return [(time, ident, summed(ident, data[:size].tobytes())) for time, ident, size, data in rows]


def summed(ident: int, payload: bytes) -> bytes:
    if ident != SAFE_STATE:
        return payload
    covered = payload[:5] + payload[7:] + DATA_ID.to_bytes(2, "little")
    checksum = crccheck.crc.Crc16Ibm3740.calc(covered)
    return payload[:5] + checksum.to_bytes(2, "little") + payload[7:]


def judged(folder: Path, bench: str, frames: list[tuple[int, int, bytes]]) -> Judgement:
    log = folder / "run.log"
    lines = (
        f"({time // 10**9}.{time % 10**9:09d}) can0 {ident:03X}#{payload.hex()}\n"
        for time, ident, payload in frames
    )
    log.write_text("".join(lines), encoding="ascii")
    return replay(folder / bench, load_bench(folder / bench), [log])


def spoilt(frames: list[tuple[int, int, bytes]], *, mend: bool) -> list[tuple[int, int, bytes]]:
    """One frame in the midst of a stop says that the drive unit is enabled; `mend`: with a right checksum."""
    states = [number for number, frame in enumerate(frames) if frame[1] == SAFE_STATE]
    opened = [number for number in states if frames[number][2][0] & 1]
    chosen = opened[len(opened) // 2]
    assert not frames[chosen][2][1] & 1
    time, ident, payload = frames[chosen]
    changed = payload[:1] + bytes([payload[1] | 1]) + payload[2:]
    return [
        *frames[:chosen],
        (time, ident, summed(ident, changed) if mend else changed),
        *frames[chosen + 1 :],
    ]


def test_right_checksums_change_nothing(folder: Path, frames: list[tuple[int, int, bytes]]) -> None:
    found = judged(folder, "checked.yaml", frames)
    assert found.verdict is Verdict.PASS
    assert not [one for one in found.observation.trace.quality if one.kind is QualityKind.CHECKSUM]


def test_a_changed_frame_with_a_wrong_checksum_is_no_evidence(
    folder: Path, frames: list[tuple[int, int, bytes]]
) -> None:
    changed = spoilt(frames, mend=False)
    assert judged(folder, "plain.yaml", changed).verdict is Verdict.FAIL
    found = judged(folder, "checked.yaml", changed)
    assert found.verdict is Verdict.INCONCLUSIVE
    (doubt,) = [one for one in found.observation.trace.quality if one.kind is QualityKind.CHECKSUM]
    assert doubt.sentence == "1 frame of SAFE_State fails the check of E2E profile P05."


def test_a_frame_that_says_so_with_a_right_checksum_fails_the_bench(
    folder: Path, frames: list[tuple[int, int, bytes]]
) -> None:
    assert judged(folder, "checked.yaml", spoilt(frames, mend=True)).verdict is Verdict.FAIL
