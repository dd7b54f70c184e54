"""Mechanics: two inertias, a torsional spring between them, Coulomb and viscous friction at each."""

import math
from typing import Final, Protocol

from interlock.twin.bench import TwinBench

__all__ = ["AnyShaft", "ElasticShaft", "RigidShaft", "make_shaft"]

_STICTION_RAD_S: Final = 0.03  # below this speed Coulomb friction fades linearly to zero (0.3 1/min)


class AnyShaft(Protocol):
    """Speeds of both ends, torque in the transducer, and one step of time."""

    drive_rad_s: float
    load_rad_s: float
    torque_nm: float

    def step(self, h: float, drive_nm: float, load_nm: float) -> None:
        """Advances by `h` seconds; `drive_nm` and `load_nm` act on the shaft's ends and are constant."""


def _coulomb(nm: float, rad_s: float) -> float:
    share = rad_s / _STICTION_RAD_S
    return nm if share >= 1.0 else -nm if share <= -1.0 else nm * share


class RigidShaft:
    """One inertia; the transducer's torque follows from the load end's balance."""

    def __init__(self, bench: TwinBench, coulomb_share: float) -> None:
        drive, load = bench.drive, bench.load
        self._j, self._j_load = bench.inertia_kgm2, load.inertia_kgm2
        self._c = coulomb_share * (drive.coulomb_nm + load.coulomb_nm)
        self._c_load = coulomb_share * load.coulomb_nm
        self._b = coulomb_share * (drive.viscous_nms + load.viscous_nms)
        self._b_load = coulomb_share * load.viscous_nms
        self.drive_rad_s = self.load_rad_s = self.torque_nm = 0.0

    def _slope(self, w: float, nm: float) -> float:
        return (nm - _coulomb(self._c, w) - self._b * w) / self._j

    def step(self, h: float, drive_nm: float, load_nm: float) -> None:
        """Classical Runge-Kutta, fourth order."""
        w, nm = self.drive_rad_s, drive_nm + load_nm
        k1 = self._slope(w, nm)
        k2 = self._slope(w + 0.5 * h * k1, nm)
        k3 = self._slope(w + 0.5 * h * k2, nm)
        k4 = self._slope(w + h * k3, nm)
        w += h / 6.0 * (k1 + 2.0 * (k2 + k3) + k4)
        self.drive_rad_s = self.load_rad_s = w
        friction = _coulomb(self._c_load, w) + self._b_load * w
        self.torque_nm = self._j_load * self._slope(w, nm) + friction - load_nm


class ElasticShaft:
    """Two inertias; state: both speeds and the angle of twist."""

    def __init__(self, bench: TwinBench, coulomb_share: float, stiffness_nm_rad: float) -> None:
        self._drive, self._load = bench.drive, bench.load
        self._share, self._k, self._d = coulomb_share, stiffness_nm_rad, bench.shaft.damping_nms
        self.drive_rad_s = self.load_rad_s = self.torque_nm = self.twist_rad = 0.0

    def _slopes(
        self, w1: float, w2: float, twist: float, drive_nm: float, load_nm: float
    ) -> tuple[float, float, float]:
        one, two, share = self._drive, self._load, self._share
        shaft = self._k * twist + self._d * (w1 - w2)
        friction_1 = share * (_coulomb(one.coulomb_nm, w1) + one.viscous_nms * w1)
        friction_2 = share * (_coulomb(two.coulomb_nm, w2) + two.viscous_nms * w2)
        return (
            (drive_nm - shaft - friction_1) / one.inertia_kgm2,
            (shaft + load_nm - friction_2) / two.inertia_kgm2,
            w1 - w2,
        )

    def step(self, h: float, drive_nm: float, load_nm: float) -> None:
        """Classical Runge-Kutta, fourth order."""
        w1, w2, s, half = self.drive_rad_s, self.load_rad_s, self.twist_rad, 0.5 * h
        a1, b1, c1 = self._slopes(w1, w2, s, drive_nm, load_nm)
        a2, b2, c2 = self._slopes(w1 + half * a1, w2 + half * b1, s + half * c1, drive_nm, load_nm)
        a3, b3, c3 = self._slopes(w1 + half * a2, w2 + half * b2, s + half * c2, drive_nm, load_nm)
        a4, b4, c4 = self._slopes(w1 + h * a3, w2 + h * b3, s + h * c3, drive_nm, load_nm)
        sixth = h / 6.0
        self.drive_rad_s = w1 + sixth * (a1 + 2.0 * (a2 + a3) + a4)
        self.load_rad_s = w2 + sixth * (b1 + 2.0 * (b2 + b3) + b4)
        self.twist_rad = s + sixth * (c1 + 2.0 * (c2 + c3) + c4)
        self.torque_nm = self._k * self.twist_rad + self._d * (self.drive_rad_s - self.load_rad_s)


def make_shaft(bench: TwinBench, coulomb_share: float = 1.0) -> AnyShaft:
    """The bench's shaft at rest; `coulomb_share` scales all friction.

    Raises ValueError if the plant's step is too long for the torsional vibration.
    """
    k = bench.shaft.stiffness_nm_rad
    if k is None:
        return RigidShaft(bench, coulomb_share)
    rate = math.sqrt(k * (1.0 / bench.drive.inertia_kgm2 + 1.0 / bench.load.inertia_kgm2))
    if rate * bench.step_s > 1.0:
        raise ValueError(f"a step of {bench.step_s} s is too long for a torsional rate of {rate:.0f} rad/s")
    return ElasticShaft(bench, coulomb_share, k)
