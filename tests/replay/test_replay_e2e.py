"""A frame whose checksum is wrong is no evidence: neither for a pass nor against the bench.

The sample log (see tests/data/README.md of the samples) with a checksum put in by crccheck, a general-purpose library:
CRC-16/CCITT-FALSE over all but its own bytes, then the data id, low byte first (AUTOSAR E2E profile 5).
"""

import re
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
        f"({time // 10**9}.{time % 10**9:09d}) can0 {ident:03X}#{'#1' * (len(payload) > 8)}{payload.hex()}\n"
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


HEADED = {
    # profile 1, data id in twelve bits: the low byte, then zero, then all but the checksum (CRC-8/GSM-A is the
    # polynomial of SAE J1850 from zero to zero); four bits of counter, from 0 to 14; four bits of data id
    "P01": (
        8,
        2,
        15,
        ' SG_ Crc : 0|8@1+ (1,0) [0|0] "" LOG\n SG_ Alive : 8|4@1+ (1,0) [0|0] "" LOG\n'
        ' SG_ Nibble : 12|4@1+ (1,0) [0|0] "" LOG\n',
        "profile: P01, checksum: Crc, data_id: 0A5Ch, id_mode: lower12Bit, id_nibble: Nibble",
    ),
    # profile 4: length, counter, data id, checksum (CRC-32/AUTOSAR over all but itself), high bytes first
    "P04": (
        64,
        12,
        65536,
        ' SG_ Crc : 71|32@0+ (1,0) [0|0] "" LOG\n SG_ Alive : 23|16@0+ (1,0) [0|0] "" LOG\n',
        "profile: P04, checksum: Crc, data_id: 0A0B0C0Dh",
    ),
}
"""By profile: bytes of the frame, bytes of the header, modulus of the counter, its signals, and what a bench says.

Headers after the AUTOSAR E2E Protocol Specification (PRS_E2EProtocol), chapters on profiles 1 and 4, from memory.
"""


def headed(profile: str, payload: bytes, count: int) -> bytearray:
    """The safety state behind the header of the profile, its counter set and its checksum not."""
    size, header, modulo, _, _ = HEADED[profile]
    frame = bytearray(size)
    frame[header : header + 2] = payload[:2]
    if profile == "P01":
        frame[1] = count % modulo | 0xA << 4
    else:
        frame[:8] = size.to_bytes(2, "big") + (count % modulo).to_bytes(2, "big") + bytes.fromhex("0A0B0C0D")
    return frame


def closed(profile: str, frame: bytearray) -> bytes:
    if profile == "P01":
        frame[0] = crccheck.crc.Crc8GsmA.calc(b"\x5c\x00" + bytes(frame[1:]))
    else:
        checksum = crccheck.crc.Crc32Autosar.calc(bytes(frame[:8]) + bytes(frame[12:]))
        frame[8:12] = checksum.to_bytes(4, "big")
    return bytes(frame)


def bench_of(profile: str, folder: Path) -> None:
    size, header, modulo, signals, said = HEADED[profile]
    dbc = (BENCH / "bench.dbc").read_text(encoding="cp1252")
    begin, end = dbc.index("BO_ 288"), dbc.index("BO_ 513")
    old = "".join(line for line in dbc[begin:end].splitlines(keepends=True) if " Alive " not in line)
    moved = re.sub(r": (\d+)\|1@", lambda found: f": {int(found[1]) + 8 * header}|1@", old)
    text = dbc[:begin] + moved.replace("SAFE_State: 8", f"SAFE_State: {size}") + signals + dbc[end:]
    (folder / "bench.dbc").write_text(text, encoding="cp1252")
    plain = (BENCH / "bench.yaml").read_text(encoding="utf-8")
    alive = f"alive: Alive, alive_modulo: {modulo}"
    plain = plain.replace("alive: Alive, alive_modulo: 256", alive)
    (folder / "plain.yaml").write_text(plain, encoding="utf-8")
    (folder / "checked.yaml").write_text(plain.replace(alive, f"{alive}, e2e: {{{said}}}"), encoding="utf-8")


@pytest.mark.parametrize("profile", HEADED)
def test_other_profiles_and_long_frames_are_judged_alike(
    profile: str, tmp_path: Path, frames: list[tuple[int, int, bytes]]
) -> None:
    bench_of(profile, tmp_path)
    states = [number for number, frame in enumerate(frames) if frame[1] == SAFE_STATE]
    sent = list(frames)
    for count, number in enumerate(states):
        time, ident, payload = frames[number]
        sent[number] = time, ident, closed(profile, headed(profile, payload, count))
    found = judged(tmp_path, "checked.yaml", sent)
    assert found.verdict is Verdict.PASS
    assert found.findings == judged(tmp_path, "plain.yaml", sent).findings

    chosen = [number for number in states if frames[number][2][0] & 1][50]
    time, ident, payload = sent[chosen]
    changed = bytearray(payload)
    changed[HEADED[profile][1] + 1] |= 1  # says that the drive unit is enabled, in the midst of a stop
    sent[chosen] = time, ident, bytes(changed)
    assert judged(tmp_path, "checked.yaml", sent).verdict is Verdict.INCONCLUSIVE
    sent[chosen] = time, ident, closed(profile, changed)
    assert judged(tmp_path, "checked.yaml", sent).verdict is Verdict.FAIL
