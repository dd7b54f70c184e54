"""Periods of a draft: rounded as a data sheet would say them, with what is odd said beside them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from look_material import DATA, DBC, candump, counting

from interlock.look import look
from interlock.look.draft_messages import MISSED, message_lines, rounded
from interlock.look.draft_signals import state_lines


@pytest.mark.parametrize(
    ("measured", "said"),
    [
        (9_998_700, 10_000_000),
        (5_002_000, 5_000_000),
        (12_040_000, 12_000_000),
        (11_640_000, 11_600_000),
        (999_900, 1_000_000),
        (17_500_000, 17_500_000),
        (100_400_000, 100_000_000),
        (7, 7),
    ],
)
def test_rounded(measured, said):
    assert rounded(measured) == said


@given(st.integers(1, 10**13))
def test_rounding_changes_a_period_by_at_most_two_percent(measured):
    assert abs(rounded(measured) - measured) <= 0.02 * measured


def test_a_gap_is_told_and_not_taken_for_healthy(tmp_path):
    frames = [frame for at, frame in enumerate(counting(100)) if not 40 <= at < 60]
    lines = list(message_lines(look([candump(tmp_path / "a.log", frames)], DBC)))
    assert "210 ms without any from 0.390 s on: find out why" in lines[0]
    assert lines[1:3] == ["      period: 10 ms", f"      longest_gap: {10 * MISSED:g} ms"]


def test_a_counter_is_proposed_with_its_modulo(tmp_path):
    frames = counting(100, modulo=16)
    lines = list(message_lines(look([candump(tmp_path / "a.log", frames)], DBC)))
    assert lines[3].startswith("      alive: Alive  # a guess")
    assert lines[4] == "      alive_modulo: 16"


def test_signals_that_carry_noise_are_proposed_as_moving():
    text = "\n".join(message_lines(look([DATA / "short.log"], DBC)))
    assert "moves: {DrvCurrent: 45 ms}" in text
    assert "SpeedRef" not in text


MULTIPLEXED = (
    'VERSION ""\nBU_: A\nBO_ 600 Axis: 8 A\n SG_ Page M : 0|8@1+ (1,0) [0|3] "" A\n'
    ' SG_ Current m0 : 8|16@1+ (0.01,0) [0|655] "A" A\n SG_ Heat m1 : 8|16@1+ (0.1,0) [0|900] "degC" A\n'
    ' SG_ FrameCrc : 32|16@1+ (1,0) [0|65535] "" A\n'
)


@pytest.fixture
def turning(tmp_path):
    """Two pages in turn, 10 ms apart; a noisy current and temperature, and something that never stands still."""
    (tmp_path / "axis.dbc").write_text(MULTIPLEXED)
    frames = [
        (at * 10_000, f"258#{at % 2:02X}{(37 * at) % 251:02X}0100{(257 * at) % 65_521:04X}0000")
        for at in range(600)
    ]
    return look([candump(tmp_path / "a.log", frames)], tmp_path / "axis.dbc")


def test_a_message_whose_signals_take_turns_may_stay_out_for_as_many_frames(turning):
    lines = list(message_lines(turning))
    assert "1 frame in 2 only" in lines[1]
    assert lines[2:4] == ["      period: 10 ms", f"      longest_gap: {20 * MISSED:g} ms"]


def test_what_selects_the_pages_is_no_counter_and_no_contact(turning):
    text = "\n".join([*message_lines(turning), *state_lines(turning)])
    assert "Page" not in text
    assert [one.name for one in turning.signals if one.selects] == ["Page"]


def test_a_signal_that_takes_turns_keeps_its_value_for_as_much_longer(turning):
    (moves,) = [line for line in message_lines(turning) if "moves:" in line]
    assert moves == "      moves: {Current: 60 ms, Heat: 60 ms}"


def test_a_checksum_is_no_noise_but_may_be_stated(turning):
    (told,) = [line for line in message_lines(turning) if "E2E" in line]
    assert told.strip() == "# FrameCrc: if it is a checksum of an AUTOSAR E2E profile, state it under e2e."


def test_how_far_a_noisy_value_may_be_off_is_asked_for(turning):
    (asked,) = [line for line in message_lines(turning) if "uncertain" in line]
    assert "{Current: ... A, Heat: ... degC}" in asked
    assert asked.strip().startswith("#")


def test_counters_are_no_noise(tmp_path):
    frames = counting(400)
    assert "moves" not in "\n".join(message_lines(look([candump(tmp_path / "a.log", frames)], DBC)))
