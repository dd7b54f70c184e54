"""Due dates as a calendar file: iCalendar, RFC 5545, one day-long event each."""

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from typing import Final

from interlock.register.due import Due
from interlock.verdict import Verdict

__all__ = ["as_calendar"]

_OCTETS: Final = 75  # of a line, its end not counted (3.1)
_ASKS: Final = {"proof_test": "proof test", "replacement": "replace", "timing": "time the unlocking of"}


def as_calendar(items: Iterable[Due], *, today: date, made_at: datetime) -> bytes:
    """The calendar as bytes; what is due at once, or not known, stands on `today`. Same input, same bytes.

    An event keeps its UID from one export to the next, so that a calendar takes it as moved, not as another.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//interlock//due dates//EN", "CALSCALE:GREGORIAN"]
    taken: Counter[str] = Counter()
    for one in items:
        uid = f"{one.kind}-{_plain(one.subject)}-{_plain(one.bench)}"
        taken[uid] += 1
        again = (
            f"-{taken[uid]}" if taken[uid] > 1 else ""
        )  # a part may wear by counts, and stand in a channel too
        lines += _event(one, f"{uid}{again}@interlock", today, made_at)
    lines.append("END:VCALENDAR")
    return b"".join(_folded(line) for line in lines)


def _event(one: Due, uid: str, today: date, made_at: datetime) -> Iterator[str]:
    unknown = one.verdict is Verdict.INCONCLUSIVE
    yield "BEGIN:VEVENT"
    yield f"UID:{uid}"
    yield f"DTSTAMP:{made_at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    yield f"DTSTART;VALUE=DATE:{one.due or today:%Y%m%d}"
    doubt = " (look: the day is not sure)" if unknown else ""
    yield f"SUMMARY:{_text(f'{one.bench}: {_ASKS[one.kind]} {one.subject}{doubt}')}"
    source = f" [{one.source}]" if one.source else ""
    yield f"DESCRIPTION:{_text(f'{one.sentence}{source}')}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _plain(name: str) -> str:
    """Letters, digits and underscores alone, one to one."""
    return "".join(
        one if one.isascii() and (one.isalnum() or one == "_") else f".{ord(one):x}." for one in name
    )


def _text(value: str) -> str:
    """A value of type TEXT (3.3.11)."""
    for sign in ("\\", ";", ","):
        value = value.replace(sign, f"\\{sign}")
    return "\\n".join(value.splitlines())


def _folded(line: str) -> bytes:
    """The line, broken so that no part is longer than 75 octets and no character is cut (3.1)."""
    parts, part = list[bytes](), b""
    for character in line:
        octets = character.encode()
        if len(part) + len(octets) > _OCTETS:
            parts.append(part)
            part = b" "
        part += octets
    return b"\r\n".join([*parts, part]) + b"\r\n"
