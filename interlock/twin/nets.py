"""What can be seen or wired on the simulated bench: the nets (two-valued or stepwise) and the analogue readings."""

from enum import IntEnum, StrEnum

__all__ = ["CHANNELS", "DriveState", "Net", "Reading", "Terminal"]


class Net(StrEnum):
    """A contact, line, button or stored value; it changes at instants and is constant between them."""

    COVER_1 = "cover_1"  # 1: contact closed, so the cover is closed
    COVER_2 = "cover_2"
    STOP_1 = "stop_1"  # 1: torque-off button released
    STOP_2 = "stop_2"
    EMERGENCY_1 = "emergency_1"  # 1: emergency stop released
    EMERGENCY_2 = "emergency_2"
    EMERGENCY_3 = "emergency_3"
    RESET = "reset"  # 1: pressed
    SUPPLY = "supply"  # 1: pressed
    OUTPUT_1 = "output_1"  # safety relay, 1: on
    OUTPUT_2 = "output_2"
    PERMIT_DRIVE = "permit_drive"  # STO line A of the unit, 1: torque permitted
    PERMIT_LOAD = "permit_load"
    MAIN = "main"  # 1: main contacts closed
    STATE_DRIVE = "state_drive"  # a DriveState
    STATE_LOAD = "state_load"
    SPEED_REFERENCE = "speed_reference"  # 1/min
    TORQUE_REFERENCE = "torque_reference"  # Nm
    PULSE_DRIVE = "pulse_drive"  # A driven into the machine against every rule; 0: none
    PULSE_LOAD = "pulse_load"


CHANNELS = (
    (Net.COVER_1, Net.STOP_1, Net.EMERGENCY_1),
    (Net.COVER_2, Net.STOP_2, Net.EMERGENCY_2),
)
"""The contacts in series in each of the safety relay's two channels."""


class Terminal(StrEnum):
    """Where a wire ends: with a fault of the wire its device gets something else than the net behind it."""

    RELAY_1 = "relay_1"  # the safety relay's channels
    RELAY_2 = "relay_2"
    RELAY_RESET = "relay_reset"
    COIL = "coil"
    AUXILIARY = "auxiliary"  # the contactor's own contact in its coil line
    DRIVE_A = "drive_a"  # STO inputs of the units
    DRIVE_B = "drive_b"
    LOAD_A = "load_a"
    LOAD_B = "load_b"


class Reading(StrEnum):
    """A value that a node computes or measures when it samples."""

    ALIVE = "alive"
    SPEED = "speed"  # 1/min
    CURRENT_DRIVE = "current_drive"  # A
    CURRENT_LOAD = "current_load"
    TORQUE_ESTIMATE = "torque_estimate"  # Nm, the load unit's own
    SHAFT_TORQUE = "shaft_torque"  # Nm, the transducer's
    BUS_VOLTAGE = "bus_voltage"  # V
    BUS_CURRENT = "bus_current"  # A
    HEAT_DRIVE = "heat_drive"  # degC, of the winding
    HEAT_LOAD = "heat_load"
    STATUS_DRIVE = "status_drive"  # status word
    STATUS_LOAD = "status_load"


class DriveState(IntEnum):
    """States of IEC 61800-7-201 that the units show (no quick stop, no fault: the bench uses neither)."""

    NO_VOLTAGE = 0  # switch on disabled, and the bus is down
    DISABLED = 1  # switch on disabled
    READY = 2  # ready to switch on
    SWITCHED_ON = 3
    ENABLED = 4  # operation enabled
