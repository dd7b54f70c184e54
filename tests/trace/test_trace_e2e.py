"""End-to-end protection: frames of other makers' checksums are believed, and no changed frame is.

Frames: made once with autosar-e2e 1.0.0 (MIT, general-purpose library of the AUTOSAR E2E protocol), from random bytes;
and the examples of PRS_E2EProtocol (R20-11, 6.6.5 "E2E Profile 5 Protocol Examples"; table numbers from memory).
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_kit import MS, kinds, made_log

from interlock.bench.protection import PROFILES, ProfileName, Protection
from interlock.trace import Expected, QualityKind
from interlock.trace.e2e import due, right, sift
from interlock.trace.gather import Stream, streams_of
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.reading import Sampled

IDS = [165, 77, 202, 24, 37, 48, 187, 29, 109, 19, 44, 222, 214, 35, 123, 46]


def signal(name: str, start: int, length: int, *, big: bool = False) -> SignalLayout:
    return SignalLayout(name, "", start, length, big, False, False, 1.0, 0.0, None, None)


def layout_of(profile: ProfileName, size: int, offset: int = 0) -> MessageLayout:
    """A message of so many bytes whose header begins with this byte."""
    bit = 8 * offset
    signals = {
        8: (signal("Crc", bit, 8), signal("Beat", bit + 8, 4), signal("Nibble", bit + 12, 4)),
        16: (signal("Crc", bit, 16), signal("Beat", bit + 16, 8)),
        32: (signal("Crc", bit + 71, 32, big=True), signal("Beat", bit + 23, 16, big=True)),
    }
    chosen = signals[PROFILES[profile].checksum_bits]
    if profile == "P06":
        chosen = (signal("Crc", bit + 7, 16, big=True), signal("Beat", bit + 32, 8))
    return MessageLayout("M", 0x123, False, size, chosen)


def stated(profile: ProfileName, mode: str = "all16Bit", data_id: int = 0) -> Protection:
    listed = {"data_ids": IDS} if PROFILES[profile].listed else {"data_id": data_id}
    nibble = "Nibble" if mode == "lower12Bit" else None
    return Protection(profile=profile, checksum="Crc", id_mode=mode, id_nibble=nibble, **listed)


FRAMES = {
    "p01_both": (stated("P01", data_id=0xBA5C), 0, "6061118d264aad6c"),
    "p01_even": (stated("P01", "alternating8Bit", 0xBA5C), 0, "ba1a8cf259302639"),
    "p01_odd": (stated("P01", "alternating8Bit", 0xBA5C), 0, "a795acd3cf92c190"),
    "p01_low": (stated("P01", "lower8Bit", 0xBA5C), 0, "7d719fa0f1483f95"),
    "p01_nibble": (stated("P01", "lower12Bit", 0xA5C), 0, "75a7bd93f50ae695"),
    "p11_both": (stated("P11", data_id=0xBA5C), 0, "61e4b10cccdaebf9"),
    "p11_nibble": (stated("P11", "lower12Bit", 0xA5C), 0, "fcaeec0b3e97818e"),
    "p02": (stated("P02"), 0, "84bf172296d5234a"),
    "p22": (stated("P22"), 0, "1fb34c6ba4e6ed24"),
    "p04": (stated("P04", data_id=0x0A0B0C0D), 0, "00106a8b0a0b0c0d56612bcc38aaf84e"),
    "p05": (stated("P05", data_id=0x1234), 0, "1ff86e8f2fa8edd0"),
    "p05_prs_short": (stated("P05", data_id=0x1234), 0, "1cca000000000000"),
    "p05_prs_offset": (stated("P05", data_id=0x1234), 8, "00000000000000002891000000000000"),
    "p06": (stated("P06", data_id=0x1234), 0, "96ec000c8c15442ee2db611a"),
}


def believed(protection: Protection, offset: int, frames: list[bytes]) -> list[bool]:
    layout = layout_of(protection.profile, len(frames[0]), offset)
    return right(protection, layout, np.array([list(one) for one in frames], np.uint8), "Beat").tolist()


@pytest.mark.parametrize("name", FRAMES)
def test_frames_of_the_library_and_of_the_specification_are_right(name: str) -> None:
    protection, offset, frame = FRAMES[name]
    assert believed(protection, offset, [bytes.fromhex(frame)] * 3) == [True] * 3


@pytest.mark.parametrize("name", FRAMES)
def test_no_frame_with_one_changed_bit_is_right(name: str) -> None:
    protection, offset, frame = FRAMES[name]
    whole = bytes.fromhex(frame)
    changed = [
        bytes(byte ^ (1 << bit % 8 if at == bit // 8 else 0) for at, byte in enumerate(whole))
        for bit in range(8 * len(whole))
    ]
    assert not any(believed(protection, offset, changed))


@pytest.mark.parametrize("name", [name for name in FRAMES if FRAMES[name][0].data_id is not None])
def test_a_frame_under_another_data_id_is_not_right(name: str) -> None:
    protection, offset, frame = FRAMES[name]
    strange = protection.model_copy(update={"data_id": (protection.data_id or 0) ^ 1})
    assert believed(strange, offset, [bytes.fromhex(frame)]) == [
        name == "p01_odd"
    ]  # there only the upper byte counts


def test_a_counter_that_its_profile_does_not_know_is_not_right() -> None:
    # Profile 1 counts from 0 to 14; 15 is the invalid value (PRS_E2EProtocol, profile 1)
    protection = stated("P01", data_id=1)
    layout = layout_of("P01", 8)
    frame = np.array([[0, 0x0F, 0, 0, 0, 0, 0, 0]], np.uint8)
    frame[0, 0] = due(protection, layout, frame, "Beat")[0]
    assert not right(protection, layout, frame, "Beat")[0]


PROTECTED = stated("P05", data_id=0x77AA)
LAYOUT = layout_of("P05", 8)


def frames(counters: list[int], *, spoilt: tuple[int, ...] = ()) -> list[tuple[int, int, bytes]]:
    """One frame each 10 ms with these counters, right but for the spoilt ones."""
    block = np.array([[0, 0, counter, 9, 8, 7, 6, 5] for counter in counters], np.uint8)
    block[:, :2] = due(PROTECTED, LAYOUT, block, "Beat").astype("<u2").view(np.uint8).reshape(-1, 2)
    for row in spoilt:
        block[row, 7] ^= 0x40
    return [(10 * MS * row, 0x123, block[row].tobytes()) for row in range(len(counters))]


def sifted(sent: list[tuple[int, int, bytes]], expected: Expected) -> tuple[Stream, list]:
    log = made_log(sent)
    streams, _ = streams_of(log, {LAYOUT.key: LAYOUT})
    kept, doubts = sift(log, streams, [expected])
    return kept["M"], doubts


EXPECTED = Expected("M", 35 * MS, 10 * MS, "Beat", 256, {}, PROTECTED)


def test_right_frames_stay_and_nothing_is_said() -> None:
    stream, doubts = sifted(frames([254, 255, 0, 1, 2]), EXPECTED)
    assert stream.good.all()
    assert doubts == []


def test_a_wrong_frame_is_no_evidence_from_the_one_before_to_the_one_after() -> None:
    stream, doubts = sifted(frames(list(range(8)), spoilt=(3, 4)), EXPECTED)
    assert stream.good.tolist() == [True, True, True, False, False, True, True, True]
    wrong = next(one for one in doubts if one.kind is QualityKind.CHECKSUM)
    assert (wrong.span.lo, wrong.span.hi, wrong.blinds) == (20 * MS, 50 * MS, True)
    assert wrong.place == "made.log:4"
    assert wrong.sentence == "2 frames of M fail the check of E2E profile P05."


def test_a_log_of_wrong_frames_only_asks_for_profile_and_data_id() -> None:
    strange = Expected("M", 35 * MS, 10 * MS, "Beat", 256, {}, PROTECTED.model_copy(update={"data_id": 1}))
    stream, doubts = sifted(frames([0, 1, 2]), strange)
    assert not stream.good.any()
    (wrong,) = doubts
    assert "as every frame of the log does: are profile and data id those of the sender" in wrong.sentence


def test_frames_that_the_counter_shows_to_be_lost_are_told_but_blind_nothing() -> None:
    stream, doubts = sifted(frames([0, 1, 3, 4, 7, 8]), EXPECTED)
    assert stream.good.all()
    (lost,) = doubts
    assert not lost.blinds
    assert lost.sentence == "By the counter of M 3 frames are lost in 2 places, the first one before this."
    assert lost.place == "made.log:3"


def test_frames_of_wrong_length_are_left_to_their_own_finding() -> None:
    sent = frames([0, 1, 2])
    sent[1] = (*sent[1][:2], sent[1][2][:5])
    stream, doubts = sifted(sent, EXPECTED)
    assert stream.good.tolist() == [True, False, True]
    assert QualityKind.CHECKSUM not in kinds(doubts)


@pytest.mark.parametrize("lacking", ["Crc", "Beat", "sampled"])
def test_what_cannot_be_checked_is_no_evidence(lacking: str) -> None:
    log = made_log(frames([0, 1, 2]))
    signals = tuple(one for one in LAYOUT.signals if one.name != lacking)
    streams, _ = streams_of(log, {LAYOUT.key: replace(LAYOUT, signals=signals)})
    if lacking == "sampled":
        times = streams["M"].times_ns
        group = Sampled("M", times, {"Crc": np.zeros(3), "Beat": np.arange(3.0)}, {}, continuous=False)
        streams["M"] = replace(streams["M"], sampled=group)
    _, (doubt,) = sift(log, streams, [EXPECTED])
    assert (doubt.kind, doubt.message, doubt.signal, doubt.blinds) == (QualityKind.CHECKSUM, "M", None, True)
    assert (doubt.span.lo, doubt.span.hi) == (0, None)


def test_without_protection_nothing_is_sifted() -> None:
    stream, doubts = sifted(frames([0, 1, 2], spoilt=(1,)), Expected("M", 35 * MS, 10 * MS, "Beat"))
    assert stream.good.all()
    assert doubts == []


@settings(max_examples=50, deadline=None)
@given(counters=st.lists(st.integers(0, 255), min_size=1, max_size=20), data=st.data())
def test_exactly_the_spoilt_frames_go(counters: list[int], data: st.DataObject) -> None:
    spoilt = data.draw(st.sets(st.integers(0, len(counters) - 1)))
    stream, doubts = sifted(frames(counters, spoilt=tuple(spoilt)), EXPECTED)
    assert set(np.flatnonzero(~stream.good).tolist()) == spoilt
    assert bool(spoilt) == any(one.blinds for one in doubts)
