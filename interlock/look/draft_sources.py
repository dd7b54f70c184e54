"""The recorders of a drafted bench description whose files hold signals: tables, captures, decoded channels."""

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from interlock.bench.quantity import UNITS, same_unit, time_text
from interlock.look.draft_messages import MISSED, rounded
from interlock.look.seen import FileSeen, Look, MessageSeen, SignalSeen
from interlock.look.tables import suggested
from interlock.trace.recognise import recognise

__all__ = ["sampled_names", "source_lines"]

_OTHER: Final = "undecided  # such as: {drift: 100 ppm, edges: [{here: A.B is 1, there: C.D is 1}]}"
_SAME: Final = (
    "{drift: 0 ppm, offset: {least: 0 s, most: 0 s}}  # of the same file; give it as SOURCE=FILE for each"
)
_PARTS: Final = "such as: {stamps: go_on}, or {stamps: begin_anew, pause: {least: 0 ms, most: 20 ms}}"
_CHANGES: Final = frozenset({"vcd", "sr"})


def sampled_names(seen: Look) -> Mapping[SignalSeen, str]:
    """How conditions name each signal that a recorder had decoded: SOURCE.SIGNAL."""
    taken: dict[str, SignalSeen] = {}
    for one in seen.signals:
        if one.message in {message.name for message in seen.messages if message.decoded}:
            word = f"{_plain(one.message)}.{_plain(one.name)}"
            while word in taken:
                word += "_"
            taken[word] = one
    return {one: word for word, one in taken.items()}


def source_lines(seen: Look, names: Mapping[SignalSeen, str], *, parts: bool = False) -> Iterator[str]:
    """The section `sources`; nothing if all logs hold frames, and no message stands in `parts` that bear no date."""
    sampled = [message for message in seen.messages if message.decoded and message.name]
    if not sampled and not parts:
        return
    frames = any(not message.decoded for message in seen.messages)
    yield "  sources:  # one a recorder; all is told by the time of the one without a clock"
    if frames:
        yield "    logger: {kind: can, parts: undecided}  # " + _PARTS if parts else "    logger: {kind: can}"
    for place, message in enumerate(sampled):
        other = place > 0 and _file_of(seen, message) is not _file_of(seen, sampled[0])
        clock = _OTHER if frames or other else _SAME if place > 0 else None
        yield from _source(seen, message, names, clock)


def _source(
    seen: Look, message: MessageSeen, names: Mapping[SignalSeen, str], clock: str | None
) -> Iterator[str]:
    file = _file_of(seen, message)
    kind = file.format if file is not None else "table"
    yield f"    {_plain(str(message.name))}:"
    yield f"      kind: {kind}"
    if kind == "table" and file is not None:
        found = suggested(recognise(Path(file.path)).head)
        yield f"      table: {{{'' if found is None else found.words}}}  # as its first lines suggest"
    if kind not in _CHANGES:
        yield from _periods(message)
    yield "      signals:"
    for one, word in names.items():
        if one.message == message.name:
            yield from _signal(one, word.partition(".")[2])
    if clock is not None:
        yield f"      clock: {clock}"


def _periods(message: MessageSeen) -> Iterator[str]:
    if message.periods is None or message.periods.median_ns <= 0:
        yield "      period: undecided"
        yield "      longest_gap: undecided"
        return
    period = rounded(message.periods.median_ns)
    yield f"      period: {time_text(period)}  # measured, as the longest gap proposed from it"
    yield f"      longest_gap: {time_text(rounded(int(MISSED * period)))}"


def _signal(signal: SignalSeen, name: str) -> Iterator[str]:
    shown = (
        "no number" if signal.least is None else f"{signal.least:g} to {signal.most:g} {signal.unit}".rstrip()
    )
    where = json.dumps(signal.name, ensure_ascii=False)
    unit = f", unit: {signal.unit}" if signal.unit else ""
    if signal.two_valued or not any(same_unit(signal.unit, one) for one in UNITS["voltage"]):
        yield f"        {name}: {{from: {where}{unit}}}  # measured: {shown}"
        return
    yield "        # Of a logic level state high_from and low_to; take both out where it is a measured value."
    levels = "high_from: undecided, low_to: undecided"
    yield f"        {name}: {{from: {where}{unit}, {levels}}}  # measured: {shown}"


def _file_of(seen: Look, message: MessageSeen) -> FileSeen | None:
    """The file that a recorder's signals are from: the one of the name, else the only one that holds signals."""
    held = [one for one in seen.files if one.format in {"table", "vcd", "sr", "mf4"}]
    named = [one for one in held if _plain(Path(one.path).stem) == _plain(str(message.name))]
    return next(iter([*named, *held]), None)


def _plain(name: str) -> str:
    """A word as a bench file wants it: small letters, digits and _, beginning with a letter."""
    word = "".join(letter if letter.isascii() and letter.isalnum() else "_" for letter in name).lower()
    return word if word[:1].isalpha() else f"s_{word}"
