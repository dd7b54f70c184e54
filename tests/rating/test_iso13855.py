"""Distances against the formulas of ISO 13855 worked by hand, the reverse, and guard locking."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iso13855 import (
    access_time_s,
    allowed_stop_time,
    interlocking_guard,
    light_curtain,
    minimum_distance,
    round_down_ms,
    round_up_mm,
    round_up_ms,
    two_hand,
    unlock_delay_s,
)

# ISO 13855:2010; K and C seen in manuals of protective devices and pages on clause 5, the limits 100, 500 and 850 of
# curtains and the two-hand clause from memory. Figures computed by hand; 1 mm.


@pytest.mark.parametrize(
    ("stop", "speed", "intrusion", "distance", "source"),
    [
        (0.3, 1600, 0, 480, "clause 5"),
        (0.62, 1600, 0, 992, "clause 9, guard"),
        (0.52, 1600, 0, 832, "clause 9, guard with 0.1 s opening credit"),
        (0.35, 1600, 120, 680, "clause 9, guard with intrusion"),
        (0.15, 1600, 250, 490, "clause 8, two-hand"),
        (0.3102, 1600, 850, 1346.32, "6.2.3.2, beams"),
        (12, 1600, 0, 19_200, "coast-down of a bench: guard locking is the normal outcome"),
        (0.112, 2000, 0, 224, "a maker's page prints 244, a slip"),
        (0.1102, 2000, 0, 220.4, "its own next row"),
    ],
)
def test_minimum_distance(stop, speed, intrusion, distance, source) -> None:
    assert minimum_distance(stop, speed, intrusion) == pytest.approx(distance, abs=1e-9), source
    by_name = minimum_distance(stop_time_s=stop, approach_speed_mm_s=speed, intrusion_mm=intrusion)
    assert by_name == minimum_distance(stop, speed, intrusion)


@pytest.mark.parametrize(
    ("distance", "speed", "intrusion", "stop"),
    [(400, 1600, 0, 0.250), (680, 1600, 120, 0.35), (1000, 2000, 500, 0.25)],
)
def test_allowed_stop_time(distance, speed, intrusion, stop) -> None:
    """Cover 400 mm from the shaft: 0.250 s at most (computed)."""
    assert allowed_stop_time(distance, speed, intrusion) == pytest.approx(stop, rel=1e-12)


@given(st.floats(0.001, 60), st.floats(1600, 2000), st.floats(0, 1200))
def test_there_and_back(stop, speed, intrusion) -> None:
    distance = minimum_distance(stop, speed, intrusion)
    assert allowed_stop_time(distance, speed, intrusion) == pytest.approx(stop, rel=1e-9)


@given(st.floats(0.001, 60), st.floats(100, 2500), st.floats(0, 1200), st.floats(1.001, 10))
def test_a_longer_stop_never_needs_less(stop, speed, intrusion, factor) -> None:
    assert minimum_distance(stop * factor, speed, intrusion) > minimum_distance(stop, speed, intrusion)
    assert light_curtain(stop * factor, 30) >= light_curtain(stop, 30) - 1e-9
    assert two_hand(stop * factor) > two_hand(stop)
    assert unlock_delay_s(stop * factor) >= unlock_delay_s(stop)


@pytest.mark.parametrize(
    ("stop", "resolution", "distance", "why"),
    [
        (0.180, 14, 360, "2000 T"),
        (0.320, 30, 640, "768 is above 500: 1600 T + 128"),
        (0.26, 14, 500, "520 is above 500, 416 then below: 500"),
        (0.02, 14, 100, "at least 100"),
        (0.3102, 45, 1346.32, "above 40 mm: 850"),
        (0.2102, 25, 500, "a maker's page prints 509; the rule gives 424, so 500"),
        (0.25, 14, 500, "exactly 500 stays with the fast approach"),
        (0.1, 10, 200, "below 14 mm no negative intrusion"),
        (0.1, 40, 408, "40 mm still by 8(d-14)"),
        (0.1, 40.1, 1010, "above 40 mm"),
    ],
)
def test_light_curtain(stop, resolution, distance, why) -> None:
    assert light_curtain(stop, resolution) == pytest.approx(distance, abs=0.01), why


def test_two_hand() -> None:
    """Clause 8: 0.15 s give 490 mm; with hoods 240, at least 100."""
    assert two_hand(0.15) == pytest.approx(490)
    assert two_hand(0.15, hooded=True) == pytest.approx(240)
    assert two_hand(0.01, hooded=True) == 100


def test_interlocking_guard() -> None:
    """Clause 9; the 100 mm minimum belongs to curtains and two-hand controls, not to guards (from memory)."""
    assert interlocking_guard(0.62) == pytest.approx(992)
    assert interlocking_guard(0.62, opening_time_s=0.1) == pytest.approx(832)
    assert interlocking_guard(0.35, 120) == pytest.approx(680)
    assert interlocking_guard(0.02) == pytest.approx(32)
    assert interlocking_guard(0.05, 10, opening_time_s=0.2) == 10
    assert interlocking_guard(0.62, approach_speed_mm_s=2000) == pytest.approx(1240)


@pytest.mark.parametrize(
    ("distance", "intrusion", "opening", "access"),
    [(400, 0, 0, 0.25), (400, 0, 0.1, 0.35), (400, 100, 0, 0.1875)],
)
def test_access_time(distance, intrusion, opening, access) -> None:
    """Cover at 400 mm from the shaft: a stop that takes longer needs guard locking (computed)."""
    assert access_time_s(distance, 1600, intrusion, opening) == pytest.approx(access)


def test_a_guard_that_lets_a_hand_through_gives_no_access_time() -> None:
    assert access_time_s(100, 1600, intrusion_mm=850) == 0


@given(st.floats(0.001, 60), st.floats(1, 5000), st.floats(0, 1200), st.floats(0, 1), st.floats(100, 2500))
def test_a_stop_outlasts_the_access_exactly_where_the_distance_does_not_do(
    stop, distance, intrusion, opening, speed
) -> None:
    least = interlocking_guard(stop, intrusion, opening, speed)
    if abs(least - distance) > 1e-6 and stop > opening:
        assert (stop > access_time_s(distance, speed, intrusion, opening)) == (least > distance)


@pytest.mark.parametrize(
    ("stop", "delay"), [(12, 12.0), (12.01, 12.1), (27.41, 27.5), (0.3, 0.3), (0.04, 0.1)]
)
def test_unlock_delay_is_rounded_up_exactly(stop, delay) -> None:
    assert unlock_delay_s(stop) == delay


def test_unlock_delay_with_another_step() -> None:
    assert unlock_delay_s(27.41, step_s=1) == 28
    assert unlock_delay_s(27.41, step_s=0.01) == 27.41


@pytest.mark.parametrize(("distance", "printed"), [(1346.32, 1347), (640.0, 640), (640.0000001, 641), (0, 0)])
def test_distances_are_printed_up(distance, printed) -> None:
    assert round_up_mm(distance) == printed


@pytest.mark.parametrize(("time", "printed"), [(0.25, 0.25), (0.2509, 0.25), (0.4875, 0.487), (1.0, 1.0)])
def test_allowed_times_are_printed_down(time, printed) -> None:
    assert round_down_ms(time) == printed


@pytest.mark.parametrize(
    ("time", "printed"), [(5.2876, 5.288), (5.28701, 5.288), (5.288, 5.288), (0.0001, 0.001), (0, 0)]
)
def test_measured_upper_bounds_are_printed_up(time, printed) -> None:
    assert round_up_ms(time) == printed


@given(st.floats(0, 1e5))
def test_what_is_printed_holds_the_true_value(time) -> None:
    """Rounded by at most a millisecond, a bound up and an allowance down."""
    down, up = round_down_ms(time), round_up_ms(time)
    assert down <= time <= up
    assert up - down <= 0.001 + 1e-9


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf, None, "12", True])
def test_bad_numbers(bad) -> None:
    for call in (
        lambda: minimum_distance(bad, 1600, 0),
        lambda: minimum_distance(0.3, bad, 0),
        lambda: allowed_stop_time(bad, 1600, 0),
        lambda: allowed_stop_time(400, bad, 0),
        lambda: light_curtain(bad, 30),
        lambda: light_curtain(0.3, bad),
        lambda: two_hand(bad),
        lambda: interlocking_guard(bad),
        lambda: interlocking_guard(0.3, 0, 0, bad),
        lambda: unlock_delay_s(bad),
        lambda: unlock_delay_s(1.0, bad),
    ):
        with pytest.raises(RatingError):
            call()


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf, None])
def test_bad_extras(bad) -> None:
    for call in (
        lambda: minimum_distance(0.3, 1600, bad),
        lambda: allowed_stop_time(400, 1600, bad),
        lambda: interlocking_guard(0.3, bad),
        lambda: interlocking_guard(0.3, 0, bad),
    ):
        with pytest.raises(RatingError):
            call()


def test_no_stop_is_short_enough_if_the_intrusion_uses_up_the_distance() -> None:
    with pytest.raises(RatingError, match="no stop is short enough"):
        allowed_stop_time(120, 1600, 120)


def test_a_curtain_cannot_be_coarser_than_70_mm() -> None:
    assert light_curtain(0.1, 70) == pytest.approx(1010)
    with pytest.raises(RatingError, match="at most 70"):
        light_curtain(0.1, 70.1)
