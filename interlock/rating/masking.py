"""What the layout of guards in series allows: masking probability level, best diagnostic coverage, best level."""

from dataclasses import dataclass
from typing import Any, Final

from interlock.bench import Bench
from interlock.bench.series_models import LAYOUT, SeriesLayout
from interlock.chain.series import Cabling, Series, cabling_of, series_of
from interlock.rating.iso14119 import masking_best_pl, masking_dc_class, masking_dc_regular, masking_level
from interlock.rating.masking_words import group, sentences, source

__all__ = ["Masking", "masking_of"]

_NOTHING_SAID: Final = SeriesLayout()


@dataclass(frozen=True, slots=True)
class Masking:
    """Guards in series at one logic device, how likely they hide each other's faults, and what follows.

    `level`: 1 (least likely) to 3; `dc`: the best class of diagnostic coverage that may be claimed for their
    contacts, 'none', 'low' or 'medium'; `max_pl`: the best performance level that their contacts can reach by it.
    `guards`: people's words for the group. `method`: 'simplified', or 'regular' where the engineer read its tables.
    """

    series: Series
    frequent: int
    others: int
    level: int
    dc: str
    max_pl: str
    method: str
    guards: str
    sentence: str
    cabling: Cabling
    layout: SeriesLayout

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "logic": self.series.logic,
            "guards": list(self.series.guards),
            "words": self.guards,
            "single_contact": list(self.series.single),
            "other_stops": list(self.series.other_stops),
            "frequent": self.frequent,
            "others": self.others,
            "method": self.method,
            "level": self.level,
            "dc": self.dc,
            "max_pl": self.max_pl,
            "source": source(self.layout),
            "cabling": self.cabling.value,
            "layout": {name: getattr(self.layout, name) for name in ("people", "open_together", *LAYOUT)},
            "sentence": self.sentence,
        }


def masking_of(bench: Bench) -> tuple[Masking, ...]:
    """One for each logic device with guards in series; what the bench file does not say counts as the worst."""
    return tuple(_judged(bench, one) for one in series_of(bench))


def _judged(bench: Bench, series: Series) -> Masking:
    layout = bench.devices[series.logic].series or _NOTHING_SAID
    frequent = sum(bench.devices[guard].opened != "rarely" for guard in series.guards)
    others = len(series.guards) - frequent
    level, dc = _allowed(series, layout, frequent + (layout.people != "one"), others)
    cabling = cabling_of(bench, series.guards)
    best = masking_best_pl(dc)
    said = " ".join(sentences(bench, series, layout, cabling, level=level, dc=dc, best=best))
    method = "simplified" if layout.regular is None else "regular"
    words = group(bench, series)
    return Masking(series, frequent, others, level, dc, best, method, words, said, cabling, layout)


def _allowed(series: Series, layout: SeriesLayout, frequent: int, others: int) -> tuple[int, str]:
    """Level and class of coverage of so many guards; one contact for both channels leaves none at any level."""
    if layout.open_together == "in_normal_work":
        return 3, "none"
    level = masking_level(frequent, others)
    if series.single:
        return level, "none"
    if layout.regular is not None:
        return level, masking_dc_regular(level, layout.regular.coverage)
    return level, masking_dc_class(frequent, others)
