"""The messages of a CANopen node (CiA 301): process data by its EDS, heartbeat, emergencies, and those of the network.

Where the file gives an object no value the default of CiA 301 holds: its pre-defined connection set.
"""

import re
from collections.abc import Iterator, Mapping
from typing import Final

from interlock.bench.canopen import CanopenNode, ObjectName, Pdo
from interlock.bench.cia402 import (
    MODE_OBJECTS,
    MODES,
    STATE_BITS,
    STATE_OF_BITS,
    STATES,
    STATUS_WORD,
    axis_object,
)
from interlock.bench.described import NO_CODE, DescribedMessage, DescribedSignal
from interlock.bench.eds import Dictionary
from interlock.bench.refusal import Refusal, advise, quoted

__all__ = [
    "EMERGENCY",
    "HEARTBEAT",
    "NODE_STATES",
    "RECEIVED",
    "REQUEST",
    "SYNC",
    "network_messages",
    "node_messages",
]

EMERGENCY: Final = "emergency"
HEARTBEAT: Final = "heartbeat"
SYNC: Final = "sync"
REQUEST: Final = "sdo_request"
RECEIVED: Final = "rpdo"
"""Roles of messages; a process data object bears its kind: `tpdo` is sent by the node, `rpdo` received."""

NODE_STATES: Final[Mapping[int, str]] = {0: "boot-up", 4: "stopped", 5: "operational", 127: "pre-operational"}
"""States of the network management as a heartbeat tells them (CiA 301, heartbeat protocol)."""

_COMMANDS: Final[Mapping[int, str]] = {
    1: "start",
    2: "stop",
    128: "enter pre-operational",
    129: "reset node",
    130: "reset communication",
}
_SIGNED: Final = {0x2: 8, 0x3: 16, 0x4: 32, 0x10: 24, 0x12: 40, 0x13: 48, 0x14: 56, 0x15: 64}
_UNSIGNED: Final = {0x1: 1, 0x5: 8, 0x6: 16, 0x7: 32, 0x16: 24, 0x18: 40, 0x19: 48, 0x1A: 56, 0x1B: 64}
_FLOAT: Final = {0x8: 32, 0x11: 64}
_NUMBERS: Final = {**_SIGNED, **_UNSIGNED, **_FLOAT}
"""Data types that are numbers, and their bits (CiA 301, table of data types)."""

_FIRST_REAL: Final = 0x20  # objects below are data types: mapped, they leave a gap in the message
_DEFAULTS: Final = {"tpdo": (0x180, 0x280, 0x380, 0x480), "rpdo": (0x200, 0x300, 0x400, 0x500)}
_SET_UP: Final = {"tpdo": (0x1800, 0x1A00), "rpdo": (0x1400, 0x1600)}
_OFF: Final = 1 << 31
_WIDE: Final = 1 << 29
_MOST_MAPPED: Final = 64


def network_messages() -> list[DescribedMessage]:
    """What belongs to no single node: network management and SYNC."""
    command = DescribedSignal("Command", 0, 8, choices=_COMMANDS, codes=_known(_COMMANDS, 256))
    return [
        DescribedMessage("nmt", 0, False, 2, (command, DescribedSignal("Node", 8, 8))),
        DescribedMessage("sync", 0x80, False, 0, role=SYNC),
    ]


def node_messages(name: str, node: CanopenNode, eds: Dictionary) -> list[DescribedMessage]:
    """Every message of the node; raises Refusal where the EDS and the bench file give no sound mapping."""
    beat = DescribedSignal("State", 0, 7, choices=NODE_STATES, codes=_known(NODE_STATES, 128))
    emergency = eds.value(0x1014)
    found = [
        *_process_data(name, node, eds),
        DescribedMessage(f"{name}_heartbeat", 0x700 + node.node, False, 1, (beat,), HEARTBEAT),
        DescribedMessage(f"{name}_sdo_answer", 0x580 + node.node, False, 8),
        _request(name, node, eds),
    ]
    if emergency is None or not emergency & _OFF:
        found.append(_emergency(name, 0x80 + node.node if emergency is None else emergency))
    _refuse_strangers(node, found)
    return found


def _request(name: str, node: CanopenNode, eds: Dictionary) -> DescribedMessage:
    """Requests to read and write entries of the node, with what those that shape its process data must hold."""
    stated: list[tuple[int, int, int, str]] = []
    for pdo, identifier, mapped in _set_up(node, eds):
        set_up, maps = (first + int(pdo[4:]) - 1 for first in _SET_UP[pdo[:4]])
        message = f"{name}_{pdo}"
        stated += [(set_up, 1, identifier, message), (maps, 0, len(mapped), message)]
        stated += [
            (maps, sub, place.index << 16 | place.sub << 8 | bits, message)
            for sub, (place, bits) in enumerate(mapped, 1)
        ]
    return DescribedMessage(f"{name}_sdo_request", 0x600 + node.node, False, 8, (), REQUEST, tuple(stated))


def _emergency(name: str, identifier: int) -> DescribedMessage:
    signals = (
        DescribedSignal("Error_code", 0, 16),
        DescribedSignal("Error_register", 16, 8),
        DescribedSignal("Makers_code", 24, 40),
    )
    number, wide = _identifier(identifier)
    return DescribedMessage(f"{name}_emergency", number, wide, 8, signals, EMERGENCY)


def _known(named: Mapping[int, str], size: int) -> tuple[float, ...]:
    return tuple(float(raw) if raw in named else NO_CODE for raw in range(size))


def _identifier(value: int) -> tuple[int, bool]:
    wide = bool(value & _WIDE)
    return value & (0x1FFFFFFF if wide else 0x7FF), wide


def _process_data(name: str, node: CanopenNode, eds: Dictionary) -> Iterator[DescribedMessage]:
    for pdo, identifier, mapped in _set_up(node, eds):
        yield _pdo(name, node, eds, pdo, identifier, mapped)


def _set_up(node: CanopenNode, eds: Dictionary) -> Iterator[tuple[str, int, list[tuple[ObjectName, int]]]]:
    """Each process data object that is switched on: identifier with flags, and the objects it maps with their bits."""
    for kind, (first, _) in _SET_UP.items():
        numbers = {
            index - first + 1 for index, sub in eds.entries if first <= index < first + 512 and sub == 1
        }
        numbers |= {int(pdo[4:]) for pdo in node.pdos if pdo.startswith(kind)}
        for number in sorted(numbers):
            identifier = _of_pdo(node, eds, kind, number)
            mapped = [] if identifier is None else list(_mapped(node, eds, f"{kind}{number}"))
            if identifier is not None and mapped:
                yield f"{kind}{number}", identifier, mapped


def _of_pdo(node: CanopenNode, eds: Dictionary, kind: str, number: int) -> int | None:
    """The identifier with its flags; None if the object is switched off."""
    stated = node.pdos.get(f"{kind}{number}", Pdo()).id
    if stated is not None:
        return stated
    value = eds.value(_SET_UP[kind][0] + number - 1, 1)
    if value is not None:
        return None if value & _OFF else value
    if number > len(_DEFAULTS[kind]):
        why = f"neither {eds.file} nor the bench file gives {kind}{number} an identifier"
        raise Refusal(why, f"add 'pdos: {{{kind}{number}: {{id: 185h}}}}' with the true one")
    return _DEFAULTS[kind][number - 1] + node.node


def _pdo(
    name: str,
    node: CanopenNode,
    eds: Dictionary,
    pdo: str,
    value: int,
    mapped: list[tuple[ObjectName, int]],
) -> DescribedMessage:
    signals: list[DescribedSignal] = []
    at = 0
    for place, bits in mapped:
        if at + bits > 8 * 64:
            raise Refusal(f"{pdo} of {eds.file} maps more than 64 bytes", "mend the EDS, or state 'maps'")
        if place.index >= _FIRST_REAL:
            signals += _signals(node, eds, pdo, place, at, bits)
        at += bits
    number, wide = _identifier(value)
    return DescribedMessage(f"{name}_{pdo}", number, wide, (at + 7) // 8, tuple(_distinct(signals)), pdo[:4])


def _mapped(node: CanopenNode, eds: Dictionary, pdo: str) -> Iterator[tuple[ObjectName, int]]:
    """Each mapped object and its bits, in the order of the message."""
    stated = node.pdos.get(pdo, Pdo()).maps
    if stated is not None:
        for place in stated:
            yield place, _bits(eds, pdo, place)
        return
    index = _SET_UP[pdo[:4]][1] + int(pdo[4:]) - 1
    count = eds.value(index, 0)
    if count is None or not 0 <= count <= _MOST_MAPPED:
        why = f"{eds.file} does not say how many objects {pdo} maps ({ObjectName(index)})"
        raise Refusal(why, f"add 'pdos: {{{pdo}: {{maps: [6041h]}}}}' with the objects as they are set up")
    for sub in range(1, count + 1):
        entry = eds.value(index, sub)
        if entry is None:
            why = f"{eds.file} gives no value for {ObjectName(index, sub)}, of {count} that {pdo} maps"
            raise Refusal(
                why, f"add 'pdos: {{{pdo}: {{maps: [6041h]}}}}' with the objects as they are set up"
            )
        yield ObjectName(entry >> 16, entry >> 8 & 0xFF), entry & 0xFF


def _bits(eds: Dictionary, pdo: str, place: ObjectName) -> int:
    entry = eds.find(place.index, place.sub)
    if entry is None:
        raise Refusal(f"{pdo}: {eds.file} has no object {place}", "write an object that it has")
    bits = _NUMBERS.get(entry.kind)
    if bits is None:
        raise Refusal(f"{pdo}: {quoted(entry.name)} ({place}) is no number", "map numbers only")
    return bits


def _signals(
    node: CanopenNode, eds: Dictionary, pdo: str, place: ObjectName, at: int, bits: int
) -> Iterator[DescribedSignal]:
    entry = eds.find(place.index, place.sub)
    if entry is None:
        why = f"{pdo} of {eds.file} maps the object {place}, which it does not describe"
        raise Refusal(why, "mend the EDS, or state 'maps'")
    if entry.kind not in _NUMBERS:
        return  # text and the like: no signal
    if _NUMBERS[entry.kind] != bits:
        why = f"{pdo} of {eds.file} maps {bits} bits of {place}, which has {_NUMBERS[entry.kind]}"
        raise Refusal(why, "mend the EDS, or state 'maps'")
    name = _plain(entry.name)
    count = node.counts.get(name)
    first_axis = axis_object(place.index)
    yield DescribedSignal(
        name,
        at,
        bits,
        is_signed=entry.kind in _SIGNED,
        is_float=entry.kind in _FLOAT,
        unit="" if count is None else count.unit,
        scale=1.0 if count is None else count.value,
        choices=MODES if first_axis in MODE_OBJECTS else None,
    )
    if first_axis == STATUS_WORD and bits >= STATE_BITS:
        yield DescribedSignal(f"{name}_state", at, STATE_BITS, choices=STATES, codes=STATE_OF_BITS)


def _plain(text: str) -> str:
    name = re.sub(r"[^A-Za-z0-9]+", "_", text).strip("_")
    return f"s_{name}" if name[:1].isdigit() else name or "unnamed"


def _distinct(signals: list[DescribedSignal]) -> Iterator[DescribedSignal]:
    taken: set[str] = set()
    for signal in signals:
        if signal.name in taken:
            raise Refusal(
                f"{quoted(signal.name)} would stand twice in one message",
                "state 'maps' with each object once",
            )
        taken.add(signal.name)
        yield signal


def _refuse_strangers(node: CanopenNode, messages: list[DescribedMessage]) -> None:
    known = {signal.name for message in messages for signal in message.signals}
    for name in node.counts:
        if name not in known:
            raise Refusal(f"counts: no message of this node has a signal {quoted(name)}", advise(name, known))
