"""Which signals a draft lists, and under which key."""

import re

from look_material import DATA, DBC, candump, counting

from interlock.look import look
from interlock.look.draft_signals import state_lines, value_lines


def test_each_bit_is_a_candidate_and_the_counter_is_none():
    lines = list(state_lines(look([DATA / "short.log"], DBC)))
    bits = [line for line in lines if " is 1" in line]
    assert len(bits) == 9
    assert not [line for line in bits if "Alive" in line]
    assert "changed at 0.503 s" in bits[0]
    assert "never anything but 0 in the log" in bits[-1]


def test_every_key_is_one_that_a_bench_file_can_hold():
    keys = [
        line.split(":")[0].strip()
        for lines in (state_lines, value_lines)
        for line in list(lines(look([DATA / "short.blf"], DBC)))[1:]
        if "#" not in line.split(":")[0]
    ]
    assert len(set(keys)) == len(keys)
    assert all(re.fullmatch(r"undecided\.[a-z][a-z0-9_]*", key) for key in keys)


def test_equal_names_in_two_messages_get_two_keys(tmp_path):
    dbc = tmp_path / "a.dbc"
    dbc.write_text(
        'VERSION ""\nBU_: A\n'
        'BO_ 256 First: 1 A\n SG_ On : 0|1@1+ (1,0) [0|1] "" A\n'
        'BO_ 257 Second: 1 A\n SG_ On : 0|1@1+ (1,0) [0|1] "" A\n SG_ _2nd : 1|1@1+ (1,0) [0|1] "" A\n'
    )
    log = candump(tmp_path / "a.log", [(0, "100#00"), (1, "101#00"), (10, "100#01"), (11, "101#01")])
    text = "\n".join(state_lines(look([log], dbc)))
    assert "undecided.on: undecided First.On is 1" in text
    assert "undecided.second_on: undecided Second.On is 1" in text
    assert "undecided.s_2nd: undecided Second._2nd is 1" in text


def test_many_changes_are_told_in_short(tmp_path):
    frames = [(at, f"{frame[:4]}{at // 10_000 % 2:02X}{frame[6:]}") for at, frame in counting(30)]
    text = "\n".join(state_lines(look([candump(tmp_path / "a.log", frames)], DBC)))
    assert "CoverA is 1  # changed at 0.010 s, 0.020 s, 0.030 s, 0.040 s and 25 more" in text


def test_no_candidate_leaves_an_empty_section(tmp_path):
    log = candump(tmp_path / "a.log", [(0, "310#00000000"), (1000, "310#00000000")])
    seen = look([log], DBC)
    assert list(state_lines(seen)) == ["  states: {}"]
    assert list(value_lines(seen)) == []


def test_a_reference_with_two_values_is_proposed_as_set_or_not(tmp_path):
    frames = [(at * 20_000, f"203#{'8016' if at > 5 else '0000'}000000000000") for at in range(12)]
    text = "\n".join(state_lines(look([candump(tmp_path / "a.log", frames)], DBC)))
    assert 'undecided.speed_ref: "undecided |CTL_Refs.SpeedRef| > 0 1/min"  # changed at 0.120 s' in text


def test_a_reference_below_zero_is_proposed_in_the_same_way(tmp_path):
    """Its greater value is 0, at which it is not set."""
    frames = [(at * 20_000, f"203#{'80E9' if at > 5 else '0000'}000000000000") for at in range(12)]
    text = "\n".join(state_lines(look([candump(tmp_path / "a.log", frames)], DBC)))
    assert 'undecided.speed_ref: "undecided |CTL_Refs.SpeedRef| > 0 1/min"  # changed at 0.120 s' in text


def test_a_state_of_several_bits_is_proposed_as_one_bit_is(tmp_path):
    dbc = tmp_path / "a.dbc"
    dbc.write_text(
        'VERSION ""\nBU_: A\nBO_ 256 First: 1 A\n SG_ Door : 0|2@1+ (1,0) [0|3] "" A\n'
        ' SG_ Mode : 2|2@1+ (1,0) [0|3] "" A\n'
    )
    log = candump(tmp_path / "a.log", [(at * 1000, f"100#{'0D' if at > 3 else '04'}") for at in range(9)])
    text = "\n".join(state_lines(look([log], dbc)))
    assert "undecided.door: undecided First.Door is 1" in text
    assert "undecided.mode: undecided First.Mode is 3" in text
