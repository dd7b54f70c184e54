"""What can be wrong with the simulated bench or with its log, each with one sentence."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

__all__ = ["Defect", "Flaw", "Flaws"]


class Defect(Enum):
    """A defect: its sentence, and where it has one, its usual size in seconds."""

    def __init__(self, sentence: str, size_s: float = 0.0) -> None:
        self.sentence = sentence
        self.size_s = size_s

    SLOW_STO_DRIVE = ("The drive unit's inverter is blocked too late after its STO lines fall.", 0.24)
    SLOW_STO_LOAD = ("The load unit's inverter is blocked too late after its STO lines fall.", 0.24)
    STO_UNWIRED_DRIVE = ("The drive unit's STO inputs are bridged: it stays enabled.",)
    STO_UNWIRED_LOAD = ("The load unit's STO inputs are bridged: it stays enabled.",)
    RELAY_SLOW = ("The safety relay's outputs fall too late: both units are late.", 0.24)

    TORQUE_ON_RELEASE = ("Torque and references come back by themselves when the demand goes.",)
    TORQUE_ON_RESET = ("Torque and references come back by themselves at reset; the start was kept.",)
    UNIT_RESTARTS = ("The units enable themselves as soon as the STO lines return, at zero reference.",)
    LATCH_MISSING = ("The enable lines return when the demand goes, without reset.",)
    RESET_ON_PRESS = ("The safety relay acts on the press of reset, not on its release.",)
    RESET_DURING_DEMAND = ("The safety relay takes a reset although a channel is open.",)
    RESET_STUCK = ("The reset button sticks when pressed; a sound relay then never resets.",)
    RESET_STUCK_ACTS = ("The reset button sticks and the relay resets itself when the demand goes.",)

    REFERENCES_KEPT = ("Neither reference is zeroed by a stop.",)
    SPEED_REFERENCE_KEPT = ("The speed reference is not zeroed by a stop.",)
    TORQUE_REFERENCE_KEPT = ("The torque reference is not zeroed by a stop.",)
    REFERENCES_LATE = ("The references are zeroed too late.", 0.45)

    CONTACTOR_WELDED = ("The main contacts stay closed when the coil is off.",)
    CONTACTOR_SLOW = ("The main contactor drops out too late.", 0.22)
    SUPPLY_ON_RELEASE = ("The supply comes back when the emergency stop is released.",)
    SUPPLY_WHILE_LATCHED = ("Supply-on works while the emergency stop is latched.",)
    BUS_SLOW = ("The bus discharges too slowly.",)
    BUS_KEPT = ("The bus does not discharge.",)
    COAST_LONG = ("The shaft coasts too long: bearings and brake lining have lost their friction.",)

    CHANNEL_2_STUCK = ("The second cover contact never opens; the relay locks out.",)
    CHANNEL_2_STUCK_UNSEEN = ("The second cover contact never opens, and the relay does not compare.",)
    CHANNEL_2_STUCK_MASKED = (
        "The second cover contact never opens; the relay compares whole channels, so another device hides it.",
    )
    CHANNEL_2_LATE = ("The second cover contact moves too late; the relay locks out.", 0.2)
    CHANNEL_2_LATE_UNSEEN = ("The second cover contact moves too late, the relay does not compare.", 0.2)

    PULSE_DURING_DEMAND = ("Torque comes back for a moment while the demand is present.", 0.12)
    PULSE_AT_RELEASE = ("Torque comes back for a moment when the demand goes.", 0.12)
    PULSE_AFTER_RESET = ("Torque comes back for a moment between reset and start.", 0.12)

    ENABLE_STUCK_DRIVE = ("The drive unit's first enable line stays on; its second takes torque away.",)
    ENABLE_STUCK_LOAD = ("The load unit's first enable line stays on; its second takes torque away.",)
    ENABLE_BOUNCES = ("The first enable lines return for a moment after they fell.", 0.05)

    GAP_STATE = ("The message with contacts and lines is missing around the demand.", 0.3)
    GAP_UNITS = ("The messages with the phase currents are missing around the demand.", 0.3)
    GAP_REFERENCES = ("The message with the references is missing around the demand.", 0.4)
    GAP_BUS = ("The message with the bus voltage is missing while the bus falls.", 6.0)
    ALIVE_FROZEN = ("The alive counter stands still around the demand.", 0.5)
    STATE_FROZEN = ("The message with contacts and lines repeats its last content.", 0.5)
    STATE_FROZEN_ALIVE = ("Contacts and lines repeat their last values while the counter counts.", 0.5)
    CURRENT_STUCK_ZERO = ("The current readings stick at zero from shortly before the demand.", 2.0)
    CURRENT_STUCK_LAST = ("The current readings repeat their last value from within the stop.", 2.0)
    CURRENT_DEAD = ("The current sensors read exactly zero all the time.",)
    CURRENT_BLIND = ("The current sensors see only noise all the time.",)
    CURRENT_OFFSET = ("The current sensors read 1.5 A too much.",)
    CLOCK_BACK = ("The logger's clock steps backwards during the stop.", 0.25)
    LOG_CUT = ("The log ends within the observation of a stop.", 0.02)
    LOG_SILENT = ("Every message is missing around the demand.", 0.3)
    FRAMES_SWAPPED = ("Frames lie in the wrong order in the log.", 0.5)
    FRAMES_TWICE = ("Frames lie twice in the log.", 0.5)
    DELAY_BEYOND = ("Frames with the currents are stamped later than the stated delay.", 0.06)


@dataclass(frozen=True, slots=True)
class Flaw:
    """A defect, the one demand at which it shows (0: first), and its size if not the usual one.

    `demand` None: a defect of the bench shows always, a defect of the log at the first demand.
    """

    defect: Defect
    demand: int | None = None
    size_s: float | None = None

    @property
    def seconds(self) -> float:
        """The size in force."""
        return self.defect.size_s if self.size_s is None else self.size_s


class Flaws:
    """The flaws of one run, asked by defect and by the number of the demand in force."""

    def __init__(self, flaws: Iterable[Flaw | Defect] = ()) -> None:
        self.all = tuple(Flaw(flaw) if isinstance(flaw, Defect) else flaw for flaw in flaws)

    def has(self, defect: Defect, demand: int) -> bool:
        """Whether `defect` shows at this demand."""
        return any(f.defect is defect and f.demand in (None, demand) for f in self.all)

    def seconds(self, defect: Defect, demand: int) -> float:
        """The size of `defect` if it shows at this demand, else 0."""
        return sum(f.seconds for f in self.all if f.defect is defect and f.demand in (None, demand))
