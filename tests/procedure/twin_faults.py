"""The catalogue's faults of the built-in bench as faults of its twin, place by place."""

from dataclasses import dataclass

from plan_walker import STEP_1_S

from interlock.twin import Act, BusyStart, Defect, Fault, Joined, Refused, Stuck
from interlock.twin.nets import Net, Terminal

__all__ = ["ON_TWIN", "SHOWN_BY_ITSELF", "OnTwin"]


@dataclass(frozen=True)
class OnTwin:
    """What to inject: faults of contacts and wires, or a defect that the twin has a name for."""

    faults: tuple[Fault, ...] = ()
    defects: tuple[Defect, ...] = ()


SHOWN_BY_ITSELF = {"contactor.mirror_stays_closed", "contactor.mirror_stays_open"}
"""Not in the chain, so dark to a plan; on this bench the log tells of the main contacts by this very contact."""

_CONTACTS = {
    "hood.a": Net.COVER_1,
    "hood.b": Net.COVER_2,
    "stop_button.a": Net.STOP_1,
    "stop_button.b": Net.STOP_2,
    "emergency.a": Net.EMERGENCY_1,
    "emergency.b": Net.EMERGENCY_2,
    "emergency.c": Net.EMERGENCY_3,
}
_WIRES = {
    "relay.wire_channel_a": Terminal.RELAY_1,
    "relay.wire_channel_b": Terminal.RELAY_2,
    "relay.wire_reset": Terminal.RELAY_RESET,
    "contactor.wire_coil": Terminal.COIL,
    "prime.wire_sto_a": Terminal.DRIVE_A,
    "prime.wire_sto_b": Terminal.DRIVE_B,
    "brake.wire_sto_a": Terminal.LOAD_A,
    "brake.wire_sto_b": Terminal.LOAD_B,
}
_UNITS = {
    "prime": (Terminal.DRIVE_A, Terminal.DRIVE_B, Net.STATE_DRIVE),
    "brake": (Terminal.LOAD_A, Terminal.LOAD_B, Net.STATE_LOAD),
}


def _stuck(where: Net | Terminal, value: int) -> OnTwin:
    return OnTwin((Stuck(where, value),))


def _joined(first: Net | Terminal, second: Net | Terminal) -> OnTwin:
    return OnTwin((Joined(first, second),))


ON_TWIN: dict[str, OnTwin] = {
    **{f"{name}_stays_closed": _stuck(net, 1) for name, net in _CONTACTS.items()},
    **{f"{name}_stays_open": _stuck(net, 0) for name, net in _CONTACTS.items()},
    **{f"{name}_short_to_supply": _stuck(end, 1) for name, end in _WIRES.items()},
    **{f"{name}_break": _stuck(end, 0) for name, end in _WIRES.items()},
    **{f"{unit}.sto_a_dead": _stuck(ends[0], 1) for unit, ends in _UNITS.items()},
    **{f"{unit}.sto_b_dead": _stuck(ends[1], 1) for unit, ends in _UNITS.items()},
    **{f"{unit}.cross_short": _joined(*ends[:2]) for unit, ends in _UNITS.items()},
    **{f"{unit}.start_stays_on": OnTwin((BusyStart(ends[2]),)) for unit, ends in _UNITS.items()},
    "hood.cross_short": _joined(Net.COVER_1, Net.COVER_2),
    "stop_button.cross_short": _joined(Net.STOP_1, Net.STOP_2),
    "stop_button.stays_pressed": OnTwin((Refused(Act.RELEASE_STOP, STEP_1_S),)),
    "emergency.cross_short": _joined(Net.EMERGENCY_1, Net.EMERGENCY_2),
    "emergency.stays_latched": OnTwin((Refused(Act.RELEASE_EMERGENCY, STEP_1_S),)),
    "reset.stays_pressed": _stuck(Net.RESET, 1),
    "reset.stays_open": _stuck(Net.RESET, 0),
    "supply_on.stays_pressed": _stuck(Net.SUPPLY, 1),
    "supply_on.stays_open": _stuck(Net.SUPPLY, 0),
    "relay.out_a_welds": _stuck(Net.OUTPUT_1, 1),
    "relay.out_b_welds": _stuck(Net.OUTPUT_2, 1),
    "relay.out_a_stays_open": _stuck(Net.OUTPUT_1, 0),
    "relay.out_b_stays_open": _stuck(Net.OUTPUT_2, 0),
    "relay.cross_short": _joined(Terminal.RELAY_1, Terminal.RELAY_2),
    "contactor.welds": OnTwin(defects=(Defect.CONTACTOR_WELDED,)),
    "contactor.does_not_close": _stuck(Net.MAIN, 0),
    "contactor.aux_stays_closed": _stuck(Terminal.AUXILIARY, 1),
    "contactor.aux_stays_open": _stuck(Terminal.AUXILIARY, 0),
    "link.discharge_lost": OnTwin(defects=(Defect.BUS_KEPT,)),
    "setpoints.zeroing_lost": OnTwin(defects=(Defect.REFERENCES_KEPT,)),
}
