"""What the layout of guards in series allows: masking probability level and best diagnostic coverage."""

from dataclasses import dataclass
from typing import Any, Final

from interlock.bench import Bench
from interlock.chain.series import Cabling, Series, cabling_of, series_of
from interlock.rating.iso14119 import masking_dc_class, masking_level

__all__ = ["Masking", "masking_of"]

_SOURCE: Final = "ISO/TR 24119:2015, Table 1, simplified method (one cell seen, the others from memory)"
_NO_PAIR: Final = (
    "one contact alone serves all inputs, so nothing compares two channels, and series wiring of one contact lies "
    "outside of ISO/TR 24119"
)


@dataclass(frozen=True, slots=True)
class Masking:
    """Guards in series at one logic device, how likely they hide each other's faults, and what follows.

    `level`: 1 (least likely) to 3; `dc`: the best class of diagnostic coverage that may be claimed for their
    contacts, 'none', 'low' or 'medium'.
    """

    series: Series
    frequent: int
    others: int
    level: int
    dc: str
    sentence: str
    cabling: Cabling

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "logic": self.series.logic,
            "guards": list(self.series.guards),
            "single_contact": list(self.series.single),
            "other_stops": list(self.series.other_stops),
            "frequent": self.frequent,
            "others": self.others,
            "level": self.level,
            "dc": self.dc,
            "source": _SOURCE,
            "cabling": self.cabling.value,
            "sentence": self.sentence,
        }


def masking_of(bench: Bench) -> tuple[Masking, ...]:
    """One for each logic device with guards in series; guards of which nothing is said count as opened hourly."""
    return tuple(_judged(bench, one) for one in series_of(bench))


def _judged(bench: Bench, series: Series) -> Masking:
    frequent = sum(bench.devices[guard].opened != "rarely" for guard in series.guards)
    others = len(series.guards) - frequent
    dc = "none" if series.single else masking_dc_class(frequent, others)
    level = masking_level(frequent, others)
    cabling = cabling_of(bench, series.guards)
    said = [*_sentences(bench, series, frequent, level, dc), *_cabling(bench, series, cabling)]
    return Masking(series, frequent, others, level, dc, " ".join(said), cabling)


def _sentences(bench: Bench, series: Series, frequent: int, level: int, dc: str) -> list[str]:
    name = {one: device.name for one, device in bench.devices.items()}
    called = ", ".join(name[one] for one in series.guards)
    said = [f"In series at the {name[series.logic]}: {called}."]
    unsaid = [one for one in series.guards if bench.devices[one].opened is None]
    said.append(f"{frequent} of {len(series.guards)} count as opened at least once an hour.")
    if unsaid:
        said.append(
            f"Nothing is said of {', '.join(name[one] for one in unsaid)} (entry 'opened'): taken as hourly."
        )
    if series.single:
        said.append(f"Of {', '.join(name[one] for one in series.single)} {_NO_PAIR}.")
    said.append(
        f"Fault masking level {level} of 3; best diagnostic coverage that may be claimed for their contacts: {dc} "
        f"({_SOURCE})."
    )
    if series.other_stops:
        stops = ", ".join(name[one] for one in series.other_stops)
        said.append(
            f"In the same series, though no guards: {stops}; operating them can hide a fault as well."
        )
    return said


def _cabling(bench: Bench, series: Series, cabling: Cabling) -> list[str]:
    """How the lines run, and that the method which looks at that is left to its reader: its tables are not at hand."""
    name = {one: device.name for one, device in bench.devices.items()}
    match cabling:
        case Cabling.OWN:
            said = "By the bench file each of these guards has a cable of its own (star cabling)."
        case Cabling.COMMON:
            shared = [
                cable.name
                for cable in bench.cables.values()
                if len({line.partition(".")[0] for line in cable.lines} & set(series.guards)) > 1
            ]
            said = (
                f"By the bench file lines of several of these guards run in one cable: {', '.join(shared)} (branch or "
                "loop cabling; the file does not tell which). Shorts between these lines are among the faults that are "
                "judged, unless the file excludes them."
            )
        case Cabling.UNSAID:
            called = ", ".join(name[one] for one in series.guards)
            said = (
                f"The bench file does not say in which cables all their lines run (entry 'cables'): {called}."
            )
    regular = (
        "The regular method (6.3) rates star, branch and loop cabling apart, and looks at polarity and protection of "
        "the lines too; it may allow more. Not rated here; see the standard."
    )
    return [said, regular]
