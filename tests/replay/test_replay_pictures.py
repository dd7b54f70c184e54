"""Series for the report's pictures: the signals around a demand, thinned, finite and in order."""

import numpy as np
import pytest
from replay_tape import COVER, DRV, ESTOP, Tape, heard, sound

from interlock.replay.pictures import pictures


def drawn(tape: Tape, function: str) -> dict[str, dict]:  # type: ignore[type-arg]
    said = heard(tape)
    stop = next(one for one in said.stops if one.name == function and one.demand is not None)
    return {one["label"]: one for one in pictures(said.observation, stop)}


@pytest.mark.parametrize(
    ("function", "labels"),
    [
        ("cover_stop", {"SAFE_State.CoverA", "SAFE_State.CoverB", "DRV_Actual.DrvSpeed"}),
        ("button_stop", {"SAFE_State.TorqueOffPb", "DRV_Actual.DrvSpeed"}),
        (
            "emergency_stop",
            {"SAFE_State.EmStop", "SAFE_State.MainContactorFb", "PSU_Bus.BusVoltage", "DRV_Actual.DrvSpeed"},
        ),
    ],
)
def test_a_stop_is_drawn_by_what_it_concerns(function: str, labels: set[str]) -> None:
    common = {
        *(
            "DRV_Actual.DrvCurrent",
            "LOD_Actual.LodCurrent",
            "SAFE_State.TorqueEnableDrv",
            "SAFE_State.TorqueEnableLod",
        ),
        *("CTL_Refs.SpeedRef", "CTL_Refs.TorqueRef"),
    }
    assert set(drawn(sound(), function)) == labels | common


@pytest.mark.parametrize("function", ["cover_stop", "emergency_stop"])
def test_series_are_short_finite_in_order_and_around_the_demand(function: str) -> None:
    on = {"cover_stop": COVER.on, "emergency_stop": ESTOP.on}[function]
    tape = sound()
    start = int(tape.us.min()) / 1e6
    for label, series in drawn(tape, function).items():
        times, values = np.array(series["times_ns"]), np.array(series["values"])
        assert 10 < len(times) == len(values) <= 240
        assert (np.diff(times) > 0).all()
        assert np.isfinite(values).all()
        assert on - 0.2 < times[0] / 1e9 + start < on
        slow = label in {"DRV_Actual.DrvSpeed", "PSU_Bus.BusVoltage"}
        assert (times[-1] / 1e9 + start > on + 5) == slow
        assert isinstance(series["unit"], str)


def test_a_series_holds_the_change_that_it_is_drawn_for() -> None:
    series = drawn(sound(), "cover_stop")
    assert set(series["SAFE_State.CoverA"]["values"]) == {0.0, 1.0}
    assert max(series["DRV_Actual.DrvCurrent"]["values"]) > 10
    assert abs(series["DRV_Actual.DrvCurrent"]["values"][-1]) < 0.3


def test_what_the_log_lacks_is_not_drawn() -> None:
    series = drawn(sound().drop(DRV), "cover_stop")
    assert "DRV_Actual.DrvCurrent" not in series
    assert "LOD_Actual.LodCurrent" in series


def test_a_stop_whose_onset_is_not_in_the_log_and_stops_beyond_many_are_not_drawn() -> None:
    said = heard(sound())
    assert [pictures(said.observation, one) for one in said.stops if one.demand is None] == [[], [], []]
    tape = sound()
    for k in range(70):
        tape.put("TorqueOffPb", 0, 7.0 + k * 0.02, 7.01 + k * 0.02)
    many = heard(tape)
    drawn_of = [bool(pictures(many.observation, one)) for one in many.stops]
    assert sum(drawn_of) == 57
    assert not any(drawn_of[60:])
