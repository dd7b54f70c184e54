"""What the numbers of a recorder's channels mean: scaled to their unit, or taken as logic levels."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from interlock.bench.quantity import same_unit
from interlock.errors import LogError
from interlock.trace.inputs import LogFile, Meaning, plain_name
from interlock.trace.reading import Reading, Sampled

__all__ = ["meant", "values_of"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def meant(file: LogFile, reading: Reading) -> Reading:
    """The reading with the signals that its file was said to hold; LogError if it holds other things."""
    if not file.meanings:
        return reading
    if not reading.sampled:
        raise LogError(
            f"{file.path}: it holds frames ({reading.format}), and signals are expected of {file.message}; "
            "give the file of that source"
        )
    group = _only_group(file, reading)
    values, units, unsure = {}, {}, set[str]()
    for name, meaning in file.meanings.items():
        channel = name if file.columns is not None else plain_name(meaning.channel)
        if channel not in group.values:
            raise LogError(
                f"{file.path}: no channel of numbers is named {meaning.channel!r}; "
                f"it holds {', '.join(group.values) or 'none'}"
            )
        values[name] = values_of(group.times_ns, group.values[channel], meaning)
        if (meaning.levels is not None or meaning.shortest_ns) and not np.isnan(group.values[channel]).any():
            unsure.add(name)
        stated = group.units.get(channel, "")
        if stated and not meaning.scaled and not same_unit(stated, meaning.unit or stated):
            raise LogError(
                f"{file.path}: {meaning.channel} is in {stated!r} by this file and in {meaning.unit!r} by the bench "
                "description; mend the one that is wrong"
            )
        units[name] = "" if meaning.levels is not None else (meaning.unit or stated)
    told = replace(group, message=file.message, values=values, units=units, unsure=frozenset(unsure))
    return replace(reading, sampled=(told,))


def _only_group(file: LogFile, reading: Reading) -> Sampled:
    if len(reading.sampled) > 1:
        names = " and ".join(", ".join(group.values) for group in reading.sampled)
        raise LogError(
            f"{file.path}: {names} were not sampled at the same instants; describe them as sources of their own"
        )
    return reading.sampled[0]


def values_of(times_ns: Ints, numbers: Floats, meaning: Meaning) -> Floats:
    """The values that the numbers mean at each stamp; NaN: not known."""
    values: Floats = numbers * meaning.factor + meaning.offset
    if meaning.levels is not None:
        low, high = meaning.levels
        values = np.where(values >= high, 1.0, np.where(values <= low, 0.0, np.nan))
    if meaning.inverted:
        values = 1.0 - values
    if meaning.shortest_ns:
        values = _without_short(times_ns, values, meaning.shortest_ns)
    return values


def _without_short(times_ns: Ints, values: Floats, shortest_ns: int) -> Floats:
    """The values, those of a stretch at one value that is not seen to last so long as not known.

    The stretches at both ends of the record may last longer than it: they are judged by what is seen of them, too.
    """
    if not len(values):
        return values
    starts = np.concatenate([[0], np.flatnonzero(values[1:] != values[:-1]) + 1])  # NaN differs from itself
    stops = np.concatenate([starts[1:], [len(values)]])
    short = times_ns[stops - 1] - times_ns[starts] < shortest_ns
    kept = values.copy()
    kept[np.repeat(short, stops - starts)] = np.nan
    return kept
