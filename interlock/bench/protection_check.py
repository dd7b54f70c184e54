"""Whether the end-to-end protection that a bench states fits its profile and the message."""

from collections.abc import Iterator, Mapping
from typing import Any

from interlock.bench.protection import PROFILES, Profile, Protection
from interlock.bench.refusal import advise, quoted
from interlock.bench.shows_models import Message
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_protection"]


def check_protection(at: Path, message: Message, signals: Mapping[str, Any]) -> Iterator[Mistake]:
    """Every contradiction between `e2e` at this path, its profile and the signals of the message."""
    stated = message.e2e
    if stated is None:
        return
    profile = PROFILES[stated.profile]
    here: Path = (*at, "e2e")
    yield from _counter(here, message, stated, profile)
    yield from _ids(here, stated, profile)
    yield from _mode(here, stated, profile)
    for key in ("checksum", "id_nibble"):
        name = getattr(stated, key)
        if name is not None and name not in signals:
            why = "the message has no signal of this name"
            yield Mistake((*here, key), f"signal {quoted(name)}", why, advise(name, signals))
        elif name is not None:
            yield from _placed(
                here, key, signals[name], 4 if key == "id_nibble" else profile.checksum_bits, profile
            )


def _counter(at: Path, message: Message, stated: Protection, profile: Profile) -> Iterator[Mistake]:
    if message.alive is None or message.alive_modulo != profile.modulo:
        why = f"its counter goes from 0 to {profile.modulo - 1}, and the message does not state that"
        instead = f"write 'alive: SIGNAL, alive_modulo: {profile.modulo}' at the message"
        yield Mistake((*at, "profile"), f"profile {stated.profile}", why, instead)


def _ids(at: Path, stated: Protection, profile: Profile) -> Iterator[Mistake]:
    wanted, other = ("data_ids", "data_id") if profile.listed else ("data_id", "data_ids")
    if getattr(stated, wanted) is None:
        what = "one data id for each of the 16 values of the counter" if profile.listed else "a data id"
        yield Mistake((*at, "profile"), f"profile {stated.profile}", f"it needs {what}", f"write '{wanted}'")
    if getattr(stated, other) is not None:
        yield Mistake((*at, other), other, f"profile {stated.profile} has none", f"write '{wanted}' instead")
    bits = 12 if stated.id_mode == "lower12Bit" and profile.modes else profile.id_bits
    for value in [*(stated.data_ids or []), *([] if stated.data_id is None else [stated.data_id])]:
        if value >= 1 << bits:
            why = f"a data id of {stated.profile} has {bits} bits"
            yield Mistake((*at, wanted), quoted(f"{value:X}h"), why, f"write {(1 << bits) - 1:X}h or less")


def _mode(at: Path, stated: Protection, profile: Profile) -> Iterator[Mistake]:
    if stated.id_mode not in (profile.modes or ("all16Bit",)):
        why = f"profile {stated.profile} has no such mode"
        yield Mistake((*at, "id_mode"), quoted(stated.id_mode), why, advise("", profile.modes))
    if (stated.id_mode == "lower12Bit") != (stated.id_nibble is not None):
        why = "the upper bits of the data id are sent in a nibble with lower12Bit, and only then"
        yield Mistake(
            (*at, "id_mode"), quoted(stated.id_mode), why, "write 'id_nibble' with it, and only then"
        )


def _placed(at: Path, key: str, signal: Any, bits: int, profile: Profile) -> Iterator[Mistake]:
    if signal.length != bits or signal.is_float:
        why = f"it has {signal.length} bits, and the profile needs {bits}"
        yield Mistake((*at, key), f"signal {quoted(signal.name)}", why, "name the right signal, or profile")
        return
    big = signal.byte_order == "big_endian"
    lowest = 8 * (signal.start // 8) + (signal.start % 8 - 7 if big else signal.start % 8)
    if key == "checksum" and lowest % 8:
        why = "it does not begin with a byte"
        yield Mistake((*at, key), f"signal {quoted(signal.name)}", why, "mend the DBC")
    if bits > 8 and big != profile.big_endian:
        why = (
            f"the profile sends it {'high' if profile.big_endian else 'low'} byte first, and the DBC does not"
        )
        yield Mistake(
            (*at, key), f"signal {quoted(signal.name)}", why, "mend the DBC, or name the right profile"
        )
