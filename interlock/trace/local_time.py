"""What must be said of a date that a logger wrote in local time, without its zone."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Final

__all__ = ["local_notes"]

_MONTHS: Final = (3, 4, 9, 10, 11)
_LAST_HOUR: Final = 4


def local_notes(what: str, starts_ns: Iterable[int]) -> tuple[str, ...]:
    """What was assumed of the dates of `what` (ns since 1970, read as UTC), and whether an hour may be taken twice."""
    said = [f"{what} carries no time zone, nor whether daylight-saving time held: read as UTC"]
    if any(map(_may_change, starts_ns)):
        said.append(
            f"{what} lies in a night in which many countries change their clocks: "
            "an hour may be missing, or be there twice"
        )
    return tuple(said)


def _may_change(start_ns: int) -> bool:
    """Whether clocks are changed about then somewhere: early on a Sunday in spring or autumn (common practice)."""
    when = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=start_ns // 10**9)
    return when.weekday() == 6 and when.hour < _LAST_HOUR and when.month in _MONTHS
