"""Temperatures of the twin's windings: the heat equation of one time constant, by scipy's integrator."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from interlock.demo.cell import cell
from interlock.twin.nets import Reading
from interlock.twin.nodes import Sensors

AIR = 22.0


class Currents:
    """A history that holds nothing but one unit's current."""

    def __init__(self, current, end_s: float) -> None:
        self.t_s = np.arange(0.0, end_s + 0.005, 0.005)
        self._current = current

    def current(self, _unit: str, at_s: np.ndarray) -> np.ndarray:
        return self._current(at_s)

    def between(self, values: np.ndarray, at_s: np.ndarray) -> np.ndarray:
        return np.interp(at_s, self.t_s, values)


@pytest.mark.parametrize(
    "current",
    [
        lambda t: np.full_like(t, 20.0),
        lambda t: np.where((t > 5) & (t < 30), 30.0, 0.0),
        lambda t: 10 + 5 * np.sin(t),
    ],
    ids=["steady", "once", "swings"],
)
@pytest.mark.parametrize("reading", [Reading.HEAT_DRIVE, Reading.HEAT_LOAD])
def test_the_winding_follows_the_heat_equation(current, reading) -> None:
    """tau dT/dt = k i^2 - (T - air)."""
    bench = cell()
    unit = bench.drive if reading is Reading.HEAT_DRIVE else bench.load
    at_s = np.linspace(0.0, 60.0, 25)

    def slope(t, warm):
        return (unit.heat_k_per_a2 * current(np.array([t])) ** 2 - warm) / unit.heat_s

    expected = AIR + solve_ivp(slope, (0, 60), [0.0], t_eval=at_s, max_step=0.01, rtol=1e-8).y[0]
    shown = Sensors(bench, {}, Currents(current, 60.0)).read(reading, at_s)
    assert shown == pytest.approx(expected, abs=0.02)


def test_without_current_it_has_the_temperature_of_the_air() -> None:
    nothing = Currents(np.zeros_like, 10.0)
    assert Sensors(cell(), {}, nothing).read(Reading.HEAT_DRIVE, np.array([0.0, 10.0])) == pytest.approx(
        [AIR, AIR]
    )
