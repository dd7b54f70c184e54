"""The report's first page: which bench, what the verdict is, what to be careful of."""

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, Final

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from interlock.cautions import CAUTIONS
from interlock.evidence.fonts import HEAD, TEXT, markup
from interlock.evidence.material import Material
from interlock.evidence.rating_pages import level_reached
from interlock.evidence.rating_rows import Rating
from interlock.evidence.style import (
    INK,
    LINE,
    MUTED,
    WIDTH,
    bullet,
    facts,
    fixed,
    head,
    heading,
    mark,
    mark_commands,
    note,
    small,
)
from interlock.evidence.words import MEANING, SHORT
from interlock.verdict import Verdict

__all__ = ["cautions", "in_short", "title", "verdicts"]

_TITLE: Final = ParagraphStyle("title", fontName=HEAD, fontSize=16, leading=20, textColor=INK)
_BENCH: Final = ParagraphStyle("bench", fontName=TEXT, fontSize=13, leading=17, textColor=INK)
_KICKER: Final = ParagraphStyle("kicker", fontName=HEAD, fontSize=7, leading=10, textColor=MUTED)
_LISTED: Final = 6  # failures named on the first page; the table names them all


def title(material: Material, made_at: datetime) -> list[Flowable]:
    """Name and identity of the bench, and where this document comes from."""
    bench = material.bench
    rows = [
        ("Bench id", bench.text("id")),
        ("Place", bench.loose("place") or "not stated"),
        ("Ratings", _ratings(bench.raw.get("ratings")) or "not stated"),
        ("Fingerprint", f"{bench.text('fingerprint')} (SHA-256 of the bench description's content)"),
        *([("Functions", functions)] if (functions := bench.text("functions")) else []),
        ("Trace starts", _trace_start(material)),
        (
            "Report made",
            f"{made_at.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC by interlock {material.raw.software}",
        ),
    ]
    return [
        Paragraph("SAFETY CHAIN OF A MOTOR TEST BENCH", _KICKER),
        Paragraph(
            "Report of a rating" if material.is_rating_alone else "Report of proof and proof test", _TITLE
        ),
        Paragraph(markup(bench.text("name")), _BENCH),
        Spacer(0, 5),
        facts(rows),
    ]


def _ratings(value: Any) -> str:
    match value:
        case None:
            return ""
        case str():
            return value
        case dict():
            return "; ".join(f"{str(key).replace('_', ' ')} {item}" for key, item in value.items())
        case _:
            return "; ".join(_rating(item) for item in value)


def _rating(item: Any) -> str:
    match item:
        case {"name": name, "value": value, **rest} | {"label": name, "value": value, **rest}:
            return f"{name} {value} {rest.get('unit') or ''}".strip()
        case str():
            return item
        case dict():
            return _ratings(item)
        case _:
            return " ".join(map(str, item)) if isinstance(item, Sequence) else str(item)


def _trace_start(material: Material) -> str:
    if material.replay is None:
        return "no trace was judged"
    start = material.replay.text("trace_start") or "not stated"
    length = material.replay.number("duration_ns")
    return start if length is None else f"{start}, {length / 1e9:.1f} s long"


def verdicts(material: Material) -> list[Flowable]:
    """The verdicts on chain and traces, in words, and how many of each there are."""
    together = material.verdict
    rows = [
        ("Chain as built", material.chain_verdict, _chain_words(material)),
        ("Recorded traces", material.trace_verdict, _trace_words(material)),
    ]
    if material.is_rating_alone:
        rows = []
    if material.rating is not None:
        rows.append(("Rating", material.rating.verdict, _rating_words(material.rating)))
    rows.append(("Together", together, f"{SHORT[together]}: {MEANING[together]}."))
    cells = [[head(name), mark(verdict, 9), small(words)] for name, verdict, words in rows]
    style: list[tuple[Any, ...]] = [
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("LINEABOVE", (0, 0), (-1, 0), 0.8, INK),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE),
        ("TOPPADDING", (0, 0), (-1, -1), 6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    for row, (_, verdict, _words) in enumerate(rows):
        style += mark_commands(verdict, (1, row))
    table = Table(cells, colWidths=[92, 96, WIDTH - 188], style=style)
    alone = [note(_ALONE)] if material.is_rating_alone else []
    return [*heading("Verdict"), table, Spacer(0, 3), *alone, note(_READING)]


_READING: Final = (
    "Pass: the evidence excludes a violation. FAIL: it shows one. Inconclusive: the data do not decide. Not "
    "observed: never exercised. The last two are never counted as a pass; the worst verdict rules."
)


_ALONE: Final = (
    "This report rates and does nothing else: the chain was not checked and no effect was judged on the bench. A "
    "rating is no proof that the bench works."
)


def _rating_words(rating: Rating) -> str:
    functions = [part for part in rating.parts if part.is_function]
    levels = [f"{part.name} {level_reached(part)}, PL {part.required_pl} required" for part in functions]
    judged = [one.verdict for part in rating.parts for one in part.judged]
    return f"{'; '.join(levels)}. {len(judged)} requirements: {_count(judged)}."


def _count(seen: Sequence[Verdict]) -> str:
    counts = Counter(seen)
    return ", ".join(f"{counts[verdict]} {SHORT[verdict]}" for verdict in Verdict)


def _chain_words(material: Material) -> str:
    if material.check is None:
        return "The chain was not checked: nothing is known of the wiring as described."
    states = material.check.number("states")
    explored = "" if states is None else f" over {states} reachable states"
    return f"{len(material.properties)} properties{explored}: {_count([p.verdict for p in material.properties])}."


def _trace_words(material: Material) -> str:
    if material.replay is None:
        return "No trace was judged: nothing is known of what the bench truly does."
    return (
        f"{len(material.demands)} demands, {len(material.findings)} findings: "
        f"{_count([f.verdict for f in material.findings])}. Data quality notes: {len(material.quality)}."
    )


def in_short(material: Material) -> list[Flowable]:
    """What failed, in sentences, on the first page; nothing if nothing did."""
    failed = [f"Chain, {p.title}: {p.sentence}" for p in material.properties if p.verdict is Verdict.FAIL]
    failed += [
        f"Finding {f.number}, {f.function}: {f.sentence}"
        for f in material.findings
        if f.verdict is Verdict.FAIL
    ]
    failed += [
        f"Rating, {part.name}: {one.sentence}"
        for part in (() if material.rating is None else material.rating.parts)
        for one in part.judged
        if one.verdict is Verdict.FAIL
    ]
    if not failed:
        return []
    more = len(failed) - _LISTED
    rest = [note(f"and {more} more, each marked FAIL in the tables below")] if more > 0 else []
    return [*heading("What failed"), *(bullet(text) for text in failed[:_LISTED]), *rest]


def cautions(material: Material) -> list[Flowable]:
    """The usual cautions, then those that the results carry."""
    own = [text for text in _carried(material) if text not in CAUTIONS]
    lead = fixed("This bench can injure. Read these before acting on anything below.")
    return [*heading("Cautions"), lead, *(bullet(text) for text in (*CAUTIONS, *own))]


def _carried(material: Material) -> list[str]:
    rated = None if material.rating is None else material.rating.fields
    parts = [part for part in (material.check, material.replay, rated) if part is not None]
    return list(dict.fromkeys(text for part in parts for text in part.words("cautions")))
