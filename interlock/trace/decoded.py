"""Channel groups of a file that are messages of the DBC, decoded by whoever wrote the file.

Known by their name, by the identifier that the library asammdf writes into it when it decodes a bus log, or by being
the only one that holds all signals, two at least, of just one message; that a note says.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from interlock.bench.quantity import same_unit
from interlock.errors import LogError
from interlock.trace.inputs import LogFile, plain_name
from interlock.trace.layout import MessageLayout
from interlock.trace.model import Source
from interlock.trace.pages import fit
from interlock.trace.readers import read_log
from interlock.trace.reading import Reading, Sampled

__all__ = ["as_messages", "read_by"]

_IDENTIFIER: Final = re.compile(r"ID_0x([0-9A-Fa-f]+)_EXT_(True|False)")
_EXTENDED: Final = 1 << 31


def read_by(layouts: Mapping[int, MessageLayout], file: Path | LogFile) -> tuple[Reading, Source]:
    """The reading of a log; of an MF4 file of which nothing is stated the channels may be messages of the DBC."""
    reading, source = read_log(file)
    stated = isinstance(file, LogFile) and bool(file.meanings)
    if reading.format == "mf4" and not stated:
        reading = as_messages(reading, Path(source.path), layouts)
    return reading, source


def as_messages(reading: Reading, path: Path, layouts: Mapping[int, MessageLayout]) -> Reading:
    """The reading with each such group named and described as its message; `layouts` by key.

    LogError if a signal is in another unit than the DBC says.
    """
    found = [_named(group, layouts) or _whole(group, layouts) for group in reading.sampled]
    groups, notes = list[Sampled](), list[str]()
    for group, layout in zip(reading.sampled, found, strict=True):
        if layout is None or not _one_message(reading.sampled, found, layout):
            groups.append(group)
            continue
        groups.append(_described(group, path, layout))
        if _named(group, layouts) is None:
            which = f"of the group {group.group}" if group.group else "of a group without a name"
            notes.append(
                f"the channels {which} are taken for the message {layout.name}: they are all its signals"
            )
    return replace(reading, sampled=tuple(groups), notes=(*reading.notes, *notes))


def _one_message(
    groups: Sequence[Sampled], found: Sequence[MessageLayout | None], layout: MessageLayout
) -> bool:
    """Whether what is taken for this message can be one: pages of it, but no second recording."""
    mine = [group for group, other in zip(groups, found, strict=True) if other is layout]
    return len(mine) == 1 or fit(mine)


def _named(group: Sampled, layouts: Mapping[int, MessageLayout]) -> MessageLayout | None:
    """The message whose name or identifier the group bears, if it holds any of its signals."""
    ident = _IDENTIFIER.search(group.group)
    key = -1 if ident is None else int(ident[1], 16) | (_EXTENDED if ident[2] == "True" else 0)
    named = (one for one in layouts.values() if one.name == group.group or one is layouts.get(key))
    return next((one for one in named if _names(one).keys() & group.values.keys()), None)


def _whole(group: Sampled, layouts: Mapping[int, MessageLayout]) -> MessageLayout | None:
    """The only message all of whose signals the group holds; a single signal may be that of any device."""
    whole = [
        one for one in layouts.values() if len(one.signals) > 1 and _names(one).keys() <= group.values.keys()
    ]
    return whole[0] if len(whole) == 1 else None


def _names(layout: MessageLayout) -> dict[str, str]:
    """The names of the signals by how a decoded channel is called here."""
    return {plain_name(one.name): one.name for one in layout.signals}


def _described(group: Sampled, path: Path, layout: MessageLayout) -> Sampled:
    names = _names(layout)
    values = {names.get(name, name): one for name, one in group.values.items()}
    units = {names.get(name, name): unit for name, unit in group.units.items()}
    there = layout.only(values)
    for signal in there.signals:
        unit = units.get(signal.name)
        if unit and not same_unit(unit, signal.unit):
            raise LogError(
                f"{path}: {layout.name}.{signal.name} is in {unit!r} by this file and in {signal.unit!r} by the DBC; "
                "export it as the DBC says, or mend the DBC"
            )
    return replace(group, message=layout.name, values=values, units=units, described=there)
