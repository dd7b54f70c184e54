"""Guards in series in the words of a safety officer: what counts, by which method, and what may be claimed."""

from collections.abc import Iterator, Mapping
from typing import Final

from interlock.bench import Bench
from interlock.bench.series_models import SeriesLayout
from interlock.chain.series import Cabling, Series
from interlock.rating.iso14119 import masking_dc_regular

__all__ = ["group", "sentences", "source"]

_SIMPLIFIED: Final = "ISO/TR 24119:2015, Table 1, simplified method (one cell seen, the others from memory)"
_NO_PAIR: Final = (
    "one contact alone serves all inputs, so nothing compares two channels, and series wiring of one contact lies "
    "outside of ISO/TR 24119"
)
_WORDS: Final[Mapping[str, Mapping[object, str]]] = {
    "protected": {True: "lines protected from damage", False: "lines not protected from damage"},
    "signals": {"pulsed": "lines tested by pulses", "static": "lines not tested by pulses"},
    "switching": {
        "diverse": "diverse switching (one contact opens, one closes)",
        "identical": "identical switching of both contacts",
    },
}
_WORST: Final = {
    "cabling": "a common cable",
    "protected": "lines not protected from damage",
    "signals": "lines not tested by pulses",
    "switching": "identical switching of both contacts",
}


def source(layout: SeriesLayout) -> str:
    """Where the class of coverage comes from."""
    if layout.regular is None:
        return _SIMPLIFIED
    return f"ISO/TR 24119:2015, 6.3, regular method, read by the engineer: {layout.regular.source}"


def group(bench: Bench, series: Series) -> str:
    """The guards and the device where they are in series, by the names that people use."""
    return f"{_named(bench, series.guards)} at the {bench.devices[series.logic].name}"


def sentences(
    bench: Bench, series: Series, layout: SeriesLayout, cabling: Cabling, *, level: int, dc: str, best: str
) -> Iterator[str]:
    """Why the group has this level and class; `best`: the performance level that the class permits."""
    yield f"In series at the {bench.devices[series.logic].name}: {_named(bench, series.guards)}."
    yield from _use(bench, series, layout)
    if series.single:
        yield f"Of {_named(bench, series.single)} {_NO_PAIR}."
    yield f"Fault masking level {level} of 3."
    yield from _method(
        layout, level, dc, held=bool(series.single) or layout.open_together == "in_normal_work"
    )
    yield _limit(dc, best)
    if series.other_stops:
        yield (
            f"In the same series, though no guards: {_named(bench, series.other_stops)}; operating them can hide a "
            "fault as well."
        )
    yield from _cabling(bench, series, layout, cabling)


def _named(bench: Bench, devices: tuple[str, ...]) -> str:
    return ", ".join(bench.devices[one].name for one in devices)


def _use(bench: Bench, series: Series, layout: SeriesLayout) -> Iterator[str]:
    """Who opens what, how often; what is not said, and what it is taken for."""
    frequent = sum(bench.devices[one].opened != "rarely" for one in series.guards)
    yield f"{frequent} of {len(series.guards)} count as opened at least once an hour."
    if unsaid := tuple(one for one in series.guards if bench.devices[one].opened is None):
        yield f"Nothing is said of {_named(bench, unsaid)} (entry 'opened'): taken as hourly."
    one_more = "so one more counts as opened at least once an hour (note to the table, from memory)"
    match layout.people:
        case "several":
            yield f"Several people can open these guards at the same time, {one_more}."
        case None:
            yield (
                "Nothing is said of how many people can open these guards at the same time (entry 'people' of "
                f"'series'): taken as several, {one_more}."
            )
    match layout.open_together:
        case "in_normal_work":
            yield (
                "Several of them are open together in normal work, which hides faults each time: no coverage at all "
                "(note to the table, from memory)."
            )
        case None:
            yield (
                "What follows holds only if no two of them are open together in normal work; nothing is said of "
                "it (entry 'open_together' of 'series')."
            )


def _method(layout: SeriesLayout, level: int, dc: str, *, held: bool) -> Iterator[str]:
    """By which method the coverage was found; `held`: there is none, whatever the tables say."""
    if layout.regular is None:
        yield "Method: simplified (ISO/TR 24119:2015, Table 1; one of its cells was seen, the others are from memory)."
        return
    read = layout.regular
    yield (
        f"Method: regular (ISO/TR 24119:2015, 6.3). By the bench file its tables allow {read.coverage} coverage for "
        f"this layout ({read.source}); that rests on whoever read them and was not checked here."
    )
    if held and read.coverage != "none":
        yield "It is not taken, for the reason above."
    elif masking_dc_regular(level, read.coverage) != read.coverage:
        yield f"Level {level} is held to {dc} here: our own cautious bound, since the tables are not at hand."


def _limit(dc: str, best: str) -> str:
    reached = {
        "none": "category 2, 3 or 4 is out of reach, and category 1 reaches it at best",
        "low": "category 3 with low coverage reaches it at best",
        "medium": "category 3 with medium coverage reaches it at best",
    }[dc]
    return (
        f"Best diagnostic coverage that may be claimed for their contacts: {dc}. So their contacts can carry PL {best} "
        f"at most: {reached} (ISO 13849-1:2015, Table K.1, 100 years)."
        + (" Common practice (no source) stops at PL d for guards in series." if best == "e" else "")
        + " What the structure can carry may be less."
    )


def _cabling(bench: Bench, series: Series, layout: SeriesLayout, cabling: Cabling) -> Iterator[str]:
    """How the lines run and are watched; which of it is not said, and that the regular method looks at it."""
    if layout.cabling is None:
        yield from _cables(bench, series, cabling)
    parts = [] if layout.cabling is None else [f"{layout.cabling} cabling"]
    for name, words in _WORDS.items():
        if (value := getattr(layout, name)) is not None:
            parts.append(words[value])
    if parts:
        yield f"Layout by the bench file: {'; '.join(parts)}."
    missing = [name for name in layout.unsaid() if name != "cabling" or cabling is Cabling.UNSAID]
    if missing:
        yield (
            f"Not said (entries {', '.join(missing)} of 'series'), and counted as the worst: "
            f"{'; '.join(_WORST[name] for name in missing)}."
        )
    if layout.regular is None:
        yield (
            "The regular method (6.3) looks at all this and may allow more. Its tables are not at hand, so the class "
            "of the simplified method stands. What your copy of the standard allows for your layout can be entered as "
            "'regular' of 'series'."
        )


def _cables(bench: Bench, series: Series, cabling: Cabling) -> Iterator[str]:
    match cabling:
        case Cabling.OWN:
            yield "By the bench file each of these guards has a cable of its own (star cabling)."
        case Cabling.COMMON:
            shared = [
                cable.name
                for cable in bench.cables.values()
                if len({line.partition(".")[0] for line in cable.lines} & set(series.guards)) > 1
            ]
            yield (
                f"By the bench file lines of several of these guards run in one cable: {', '.join(shared)} (branch or "
                "loop cabling; the file does not tell which). Shorts between these lines are among the faults that are "
                "judged, unless the file excludes them."
            )
        case Cabling.UNSAID:
            called = _named(bench, series.guards)
            yield (
                f"The bench file does not say in which cables all their lines run (entry 'cables'): {called}."
            )
