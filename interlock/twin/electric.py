"""Electrics: current loops as first-order lags, the drive unit's speed loop, and the bus capacitor.

Each step of a lag is exact for constant targets, so any instant within a step can be had exactly.
"""

import math

from interlock.twin.bench import Control, Supply, Unit

__all__ = ["Bus", "CurrentLoop", "SpeedLoop"]


class CurrentLoop:
    """Torque-forming and magnetising current of one unit, both lagging behind their targets."""

    def __init__(self, unit: Unit) -> None:
        self._unit = unit
        self.q_a = self.d_a = self.q_target_a = self.d_target_a = 0.0
        self.tau_s = unit.decay_s

    def step(self, h: float, wanted_a: float, on: bool) -> float:
        """Advances by `h` seconds towards `wanted_a` (or, blocked, towards zero); mean torque in Nm."""
        limit = self._unit.limit_a
        self.q_target_a = max(-limit, min(limit, wanted_a)) if on else 0.0
        self.d_target_a = self._unit.idle_a if on else 0.0
        self.tau_s = self._unit.lag_s if on else self._unit.decay_s
        left, before = math.exp(-h / self.tau_s), self.q_a
        self.q_a = self.q_target_a + (self.q_a - self.q_target_a) * left
        self.d_a = self.d_target_a + (self.d_a - self.d_target_a) * left
        return 0.5 * (before + self.q_a) * self._unit.nm_per_a


class SpeedLoop:
    """Ramp and proportional-integral control; starts from the shaft's speed whenever it was blocked."""

    def __init__(self, control: Control, unit: Unit) -> None:
        self._control, self._unit = control, unit
        self._ramp = self._integral = 0.0

    def step(self, h: float, reference_rad_s: float, rad_s: float, on: bool) -> float:
        """The torque-forming current to ask for, in A."""
        if not on:
            self._ramp, self._integral = rad_s, 0.0
            return 0.0
        reach = self._control.ramp_rpm_s * math.pi / 30.0 * h
        self._ramp += max(-reach, min(reach, reference_rad_s - self._ramp))
        error = self._ramp - rad_s
        wanted = self._control.proportional_nms * error + self._integral
        limit = self._unit.limit_a * self._unit.nm_per_a
        if abs(wanted) < limit:
            self._integral += self._control.integral_nm * error * h
        return wanted / self._unit.nm_per_a


class Bus:
    """The capacitor: precharged, then fed through the main contacts; without them bled by a resistor."""

    def __init__(self, supply: Supply, bleeder_share: float) -> None:
        self._supply = supply
        self._bleeder_ohm = supply.bleeder_ohm * bleeder_share
        self.volts = self.target_v = self.drawn_a = 0.0
        self.tau_s = self._bleeder_ohm * supply.capacitance_f

    def step(self, h: float, closed: bool, watts: float) -> None:
        """Advances by `h` seconds; `watts` is what the inverters draw (negative: feed back)."""
        supply = self._supply
        self.drawn_a = watts / self.volts if self.volts >= supply.minimum_v else 0.0
        conductance, source_a = 1.0 / self._bleeder_ohm, 0.0
        if closed:
            charged = self.volts > 0.9 * supply.volts
            feed = 1.0 / (supply.source_ohm if charged else supply.precharge_ohm)
            conductance, source_a = conductance + feed, supply.volts * feed
        self.target_v = (source_a - self.drawn_a) / conductance
        self.tau_s = supply.capacitance_f / conductance
        self.volts = self.target_v + (self.volts - self.target_v) * math.exp(-h / self.tau_s)
        self.volts = max(self.volts, 0.0)
