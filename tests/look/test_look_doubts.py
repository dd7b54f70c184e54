"""The doubts that `look` tells are those that loading the log for judgement tells, if the bench expects nothing."""

import pytest
from look_material import DATA, DBC, candump, counting

from interlock.look import look
from interlock.trace import load


def told(doubts):
    return sorted((str(one.kind), one.message or "", one.place, one.blinds, one.sentence) for one in doubts)


@pytest.mark.parametrize("name", ["short.log", "short.asc", "short.blf", "short.csv"])
def test_sound_logs(name):
    assert told(look([DATA / name], DBC).doubts) == told(load([DATA / name], DBC, messages=[]).quality)


def test_damaged_logs(tmp_path):
    frames = counting(60)
    frames[20] = (frames[20][0], "120#0300")
    frames[30], frames[31] = (frames[31][0], frames[30][1]), (frames[30][0], frames[31][1])
    frames[40] = (frames[40][0], "7FF#")
    frames[45] = (frames[45][0], "201#FFFFFFFFFFFFFFFF")
    log = candump(tmp_path / "a.log", frames, extra={10: "junk"})
    found = told(look([log], DBC).doubts)
    assert found == told(load([log], DBC, messages=[]).quality)
    assert {kind for kind, *_ in found} >= {"unreadable", "wrong_length", "time_backwards", "unknown_id"}


def test_one_message_over_two_buses(tmp_path):
    log = candump(tmp_path / "a.log", counting(60))
    log.write_text(log.read_text().replace("can0", "can1", 10))
    found = told(look([log], DBC).doubts)
    assert found == told(load([log], DBC, messages=[]).quality)
    assert [kind for kind, *_ in found] == ["several_channels"]
    (message,) = look([log], DBC).messages
    assert set(message.channels) == {"can0", "can1"}


def in_blocks(frames, size):
    """The recorder stamps so many frames when it hands them over, a microsecond apart."""
    last = [frames[min(at // size * size + size - 1, len(frames) - 1)][0] for at in range(len(frames))]
    return [
        (stamp + at % size, frame) for at, (stamp, (_, frame)) in enumerate(zip(last, frames, strict=True))
    ]


@pytest.mark.parametrize(("size", "every"), [(2, "20 ms"), (5, "50 ms"), (32, "320 ms")])
@pytest.mark.parametrize("dbc", [None, DBC], ids=["plain", "dbc"])
def test_frames_in_blocks_are_told_and_are_no_doubt(tmp_path, size, every, dbc) -> None:
    seen = look([candump(tmp_path / "a.log", in_blocks(counting(320), size))], dbc)
    (note,) = [one for one in seen.notes if "blocks" in one]
    name = "120" if dbc is None else "SAFE_State"
    assert note.startswith(
        f"frames of {name} stand in blocks of up to {size}, {every} apart: if the recorder stamps"
    )
    assert seen.doubts == ()


def test_blocks_of_several_messages_are_one_note(tmp_path) -> None:
    frames = [
        (at, f"{ident:03X}#00") for at, _ in in_blocks(counting(100), 4) for ident in range(0x300, 0x305)
    ]
    (note,) = [one for one in look([candump(tmp_path / "a.log", frames)]).notes if "blocks" in one]
    assert note.startswith("frames of 300, 301, 302 and 2 more stand in blocks of up to 4, 40 ms apart")


@pytest.mark.parametrize("stray_us", [0, 2000])
def test_frames_one_by_one_are_in_no_blocks(tmp_path, stray_us) -> None:
    frames = [(at + stray_us * (row % 3), frame) for row, (at, frame) in enumerate(counting(300))]
    assert not [one for one in look([candump(tmp_path / "a.log", frames)]).notes if "blocks" in one]


def test_a_capture_of_changes_is_in_no_blocks() -> None:
    """Its reader writes two rows a change, a step apart."""
    assert not [one for one in look([DATA / "motion_steps.sr"]).notes if "blocks" in one]
