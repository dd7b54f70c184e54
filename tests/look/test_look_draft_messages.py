"""Periods of a draft: rounded as a data sheet would say them, with what is odd said beside them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from look_material import DATA, DBC, candump, counting

from interlock.look import look
from interlock.look.draft_messages import MISSED, message_lines, rounded


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
