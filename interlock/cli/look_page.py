"""What is in a log as text: the files, a table of messages, a table of signals, the doubts."""

from rich.console import Console
from rich.table import Table
from rich.text import Text

from interlock.interval import Interval
from interlock.look import Look
from interlock.look.seen import FileSeen, MessageSeen, SignalSeen

__all__ = ["show"]


def show(page: Console, seen: Look) -> None:
    """Print everything that was seen."""
    for file in seen.files:
        page.print(_file(file), soft_wrap=True)
    for note in seen.notes:
        page.print(f"note: {note}", soft_wrap=True, markup=False)
    page.print(f"{seen.duration_ns / 1e9:.3f} s from the first frame to the last.")
    page.print(_messages(seen.messages))
    if seen.signals:
        page.print(_signals(seen.signals))
    if seen.dbc is None:
        page.print(
            "No DBC given: frames are not decoded; their lengths and identifiers are compared with nothing."
        )
    _doubts(page, seen)


def _file(file: FileSeen) -> Text:
    lost = sum(one.count for one in file.findings)
    return Text(
        f"{file.path}: {file.format}, {file.lines_or_objects} entries: {file.frames} frames, "
        f"{file.non_frames} other, {lost} not read"
    )


def _messages(messages: tuple[MessageSeen, ...]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name, side in (
        ("id", "right"),
        ("message", "left"),
        ("frames", "right"),
        ("ms from frame to frame", "left"),
        ("longest gap", "left"),
        ("bytes", "right"),
        ("counts up", "left"),
    ):
        table.add_column(name, justify="right" if side == "right" else "left")
    for one in messages:
        counters = ", ".join(f"{counter.where} mod {counter.modulo}" for counter in one.counters)
        lengths = ", ".join(map(str, one.lengths))
        row = (
            one.label,
            one.name or "",
            str(one.count),
            _period(one),
            _gap(one.longest_gap),
            lengths,
            counters,
        )
        table.add_row(*map(Text, row))
    return table


def _period(message: MessageSeen) -> str:
    if message.periods is None:
        return ""
    periods = (message.periods.median_ns, message.periods.least_ns, message.periods.most_ns)
    median, least, most = (f"{one / 1e6:.4g}" for one in periods)
    return f"{median} ({least} to {most})"


def _gap(gap: Interval) -> str:
    length = 0 if gap.hi is None else gap.hi - gap.lo
    return f"{length / 1e6:.4g} ms at {gap.lo / 1e9:.3f} s"


def _signals(signals: tuple[SignalSeen, ...]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("signal")
    for name in ("least", "most"):
        table.add_column(name, justify="right")
    table.add_column("unit")
    table.add_column("values", justify="right")
    table.add_column("longest still")
    table.add_column("changes", justify="right")
    for one in signals:
        changes = "" if one.edges is None else str(len(one.edges))
        row = (
            f"{one.message}.{one.name}",
            _number(one.least),
            _number(one.most),
            one.unit,
            str(one.distinct),
        )
        table.add_row(*map(Text, (*row, _still(one), changes)))
    return table


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def _still(signal: SignalSeen) -> str:
    still = signal.still
    if still is None or still.span.hi is None:
        return ""
    return f"{still.samples} samples, {(still.span.hi - still.span.lo) / 1e6:.4g} ms"


def _doubts(page: Console, seen: Look) -> None:
    for doubt in seen.doubts:
        head = ("blinds", "bold yellow") if doubt.blinds else ("note", "")
        page.print(Text.assemble(head, f" {doubt.place}: {doubt.sentence}"), soft_wrap=True)
    blinding = sum(doubt.blinds for doubt in seen.doubts)
    if blinding:
        page.print(f"{blinding} doubts, each of which takes something away from what this log can prove.")
    else:
        page.print("No doubt was found that needs no bench description to be seen; 'replay' looks for more.")
