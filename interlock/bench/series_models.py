"""What the bench file says of guards in series: who opens them, how their lines run and are watched, as data."""

from typing import Literal

from interlock.bench.kind import Record, Text

__all__ = ["LAYOUT", "SeriesLayout", "TableCell"]

LAYOUT = ("cabling", "protected", "signals", "switching")
"""The entries that the regular method of ISO/TR 24119 (6.3) asks for, beside number and use of the guards."""


class TableCell(Record):
    """What the engineer read for this layout in the tables of the regular method, and where."""

    coverage: Literal["none", "low", "medium", "high"]
    source: Text


class SeriesLayout(Record):
    """Guards in series at one logic device (ISO/TR 24119:2015; ISO 14119:2024, annex K).

    None: the bench file does not say.
    """

    people: Literal["one", "several"] | None = None  # who can open these guards at the same time
    open_together: Literal["never", "in_normal_work"] | None = None
    cabling: Literal["star", "branch", "loop"] | None = None
    protected: bool | None = None  # laid so that the lines cannot be damaged
    signals: Literal["pulsed", "static"] | None = None  # whether the logic tests its input lines by pulses
    switching: Literal["diverse", "identical"] | None = None  # one contact opens and one closes, or both open
    regular: TableCell | None = None

    def unsaid(self) -> tuple[str, ...]:
        """Which entries of the regular method's layout are missing."""
        return tuple(name for name in LAYOUT if getattr(self, name) is None)
