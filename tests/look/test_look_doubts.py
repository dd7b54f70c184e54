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
