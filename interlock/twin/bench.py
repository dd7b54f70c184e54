"""All figures of a simulated bench, as plain data: plant, safety chain, control, messages and logger."""

from collections.abc import Mapping
from dataclasses import dataclass

from interlock.twin.nets import DriveState, Net, Reading

__all__ = ["Chain", "Control", "Logger", "Message", "Shaft", "Shown", "Supply", "TwinBench", "Unit"]


@dataclass(frozen=True, slots=True)
class Unit:
    """One electrical machine with its inverter."""

    inertia_kgm2: float
    coulomb_nm: float
    viscous_nms: float
    nm_per_a: float
    limit_a: float  # torque-forming current
    idle_a: float  # magnetising current while enabled
    lag_s: float  # of the current loop
    decay_s: float  # of the current once the inverter is blocked
    sto_s: float  # STO line low until the inverter is blocked
    heat_k_per_a2: float = 0.1  # how much warmer than the air the winding gets in the end
    heat_s: float = 90.0  # time constant of that


@dataclass(frozen=True, slots=True)
class Shaft:
    """The torque transducer as a spring with damping; no stiffness: rigid."""

    stiffness_nm_rad: float | None
    damping_nms: float = 0.0


@dataclass(frozen=True, slots=True)
class Supply:
    """Main contactor, precharge and bus capacitor."""

    volts: float
    capacitance_f: float
    precharge_ohm: float
    source_ohm: float
    bleeder_ohm: float
    minimum_v: float  # below it no unit makes torque
    pick_up_s: float
    drop_out_s: float
    standby_a: float = 0.0  # what the bus current sensor shows with a charged bus and no torque


@dataclass(frozen=True, slots=True)
class Chain:
    """Safety relay and contacts."""

    drop_s: float  # a channel opens until the outputs are off
    rise_s: float  # release of reset until the outputs are on
    spread_s: float  # each delay of relay, unit and contactor is longer by up to this
    discrepancy_s: float
    reset_hold_max_s: float
    cover_lag_s: float  # second cover channel after the first, at most


@dataclass(frozen=True, slots=True)
class Control:
    """Cell controller and the drive unit's speed loop."""

    zero_s: float  # enable lines off until the references are zero
    step_s: float  # between two states on the way to operation enabled
    ramp_rpm_s: float
    proportional_nms: float
    integral_nm: float


@dataclass(frozen=True, slots=True)
class Shown:
    """One signal of a message, what feeds it, and the sensor's noise (standard deviation)."""

    signal: str
    source: Net | Reading
    inverted: bool = False
    noise: float = 0.0


@dataclass(frozen=True, slots=True)
class Message:
    """A cyclic message; `alive_modulo` 0: it has no counter."""

    name: str
    period_s: float
    shown: tuple[Shown, ...]
    alive_modulo: int = 0


@dataclass(frozen=True, slots=True)
class Logger:
    """Reception stamps: usual delay (half-normal) and slow wander on top, cut at the stated bound."""

    delay_s: float
    wander_s: float
    delay_max_s: float
    jitter_s: float = 0.0  # of the sampling instant, either way
    loss: float = 0.0  # chance that a frame is lost; never two of one message in a row


@dataclass(frozen=True, slots=True)
class TwinBench:
    """A whole simulated bench; `dbc` is the text of the data base that lays out its messages."""

    drive: Unit
    load: Unit
    shaft: Shaft
    supply: Supply
    chain: Chain
    control: Control
    logger: Logger
    messages: tuple[Message, ...]
    status_words: Mapping[DriveState, int]
    dbc: str
    threshold_a: float  # truth: a unit within it is without torque
    standstill_rpm: float
    low_v: float
    step_s: float = 0.0005  # of the plant

    @property
    def inertia_kgm2(self) -> float:
        """Of the whole shaft."""
        return self.drive.inertia_kgm2 + self.load.inertia_kgm2
