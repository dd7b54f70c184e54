"""What was judged against which requirement, and every finding with its interval, limit and verdict."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from reportlab.platypus import Flowable, LongTable

from interlock.evidence.material import Finding, Material, Property
from interlock.evidence.story_pages import counterexamples
from interlock.evidence.style import (
    FRAME,
    GRID,
    LINE,
    WIDTH,
    head,
    heading,
    mark,
    mark_commands,
    note,
    pieces,
    shortened,
    small,
)
from interlock.evidence.words import SHORT, bounds, effect_words, exact, instant
from interlock.verdict import Verdict

__all__ = ["chain", "findings", "requirements"]


def _table(rows: list[list[Any]], widths: Sequence[float], style: Sequence[tuple[Any, ...]]) -> Flowable:
    return LongTable(rows, colWidths=list(widths), style=[*FRAME, *style], repeatRows=1)


def requirements(material: Material) -> list[Flowable]:
    """Each requirement on the traces once, with its source, its functions and the verdicts under it."""
    title = heading("What was judged in the traces, against what")
    if not material.findings:
        return [*title, note("Nothing was judged in traces.")]
    rows: list[list[Any]] = [[head("Effect"), head("Requirement and source"), head("For"), head("Verdicts")]]
    for (effect, requirement, source), judged in _by_requirement(material).items():
        counted = Counter(finding.verdict for finding in judged)
        words = ", ".join(f"{counted[v]} {SHORT[v]}" for v in Verdict if counted[v])
        functions = ", ".join(dict.fromkeys(finding.function for finding in judged))
        ends: list[Any] = [small(shortened(effect)), small(shortened(functions)), small(words)]
        for piece in pieces(_with_source(requirement, source)):
            rows.append([ends[0], small(piece), *ends[1:]])
            ends = ["", "", ""]
    style = [("LINEBELOW", (0, 1), (-1, -1), 0.3, GRID)]
    return [*title, _table(rows, [86, WIDTH - 86 - 92 - 68, 92, 68], style)]


def _with_source(requirement: str, source: str) -> str:
    return f"{requirement or 'not stated'} [{source or 'no source stated'}]"


def _by_requirement(material: Material) -> dict[tuple[str, str, str], list[Finding]]:
    seen: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in material.findings:
        limit = "" if finding.limit_ns is None else f" within {exact(finding.limit_ns)}"
        key = (f"{effect_words(finding.effect)}{limit}", finding.requirement, finding.source)
        seen.setdefault(key, []).append(finding)
    return seen


def findings(material: Material) -> list[Flowable]:
    """The table of findings: one block each, figures above, sentence below."""
    title = heading("Findings in the traces")
    if not material.findings:
        return [*title, note("No trace was judged." if material.replay is None else "There are no findings.")]
    names = ("", "Function, effect, subject", "Demand, since first frame", "Latency", "Limit", "Verdict")
    rows: list[list[Any]] = [[head(name) for name in names]]
    style: list[tuple[Any, ...]] = []
    for finding in material.findings:
        _finding_rows(finding, rows, style)
    explain = note(
        "The true latency lies inside the interval, whatever the sampling, as long as the stated time-stamp "
        "delay holds; 'or more' means that no upper bound is known. Bounds are rounded outwards. Pass needs the "
        "whole interval within the limit."
    )
    widths = [22, WIDTH - 22 - 92 - 88 - 48 - 74, 92, 88, 48, 74]
    return [*title, explain, _table(rows, widths, style)]


def _finding_rows(finding: Finding, rows: list[list[Any]], style: list[tuple[Any, ...]]) -> None:
    style += mark_commands(finding.verdict, (5, len(rows)))
    style.append(("NOSPLIT", (0, len(rows)), (0, len(rows) + 1)))
    name = f"{finding.function}: {effect_words(finding.effect)}"
    rows.append(
        [
            small(str(finding.number)),
            small(shortened(f"{name}, {finding.subject}" if finding.subject else name)),
            small(instant(finding.demand)),
            small(bounds(finding.latency, finding.limit_ns)),
            small("none" if finding.limit_ns is None else exact(finding.limit_ns)),
            mark(finding.verdict),
        ]
    )
    for piece in pieces(finding.sentence or "No sentence was given."):
        style.append(("SPAN", (1, len(rows)), (-1, len(rows))))
        rows.append(["", small(piece), "", "", "", ""])
    style.append(("LINEBELOW", (0, len(rows) - 1), (-1, len(rows) - 1), 0.3, LINE))


def chain(material: Material) -> list[Flowable]:
    """The properties of the chain as built; each violation with the shortest acts that lead to it."""
    title = heading("The chain as built")
    if material.check is None:
        return [*title, note("The chain was not checked.")]
    rows: list[list[Any]] = [[head("Property"), head("Requirement, source; what was found"), head("Verdict")]]
    style: list[tuple[Any, ...]] = [("LINEBELOW", (0, 1), (-1, -1), 0.3, GRID)]
    for item in material.properties:
        _property_rows(item, rows, style)
    widths = [124, WIDTH - 124 - 74, 74]
    return [*title, _table(rows, widths, style), *counterexamples(material.properties)]


def _property_rows(item: Property, rows: list[list[Any]], style: list[tuple[Any, ...]]) -> None:
    style += mark_commands(item.verdict, (2, len(rows)))
    name = f"{item.title} ({item.function})" if item.function else item.title
    required = _with_source(item.requirement, item.source)
    found = f"{required}\nFound: {item.sentence or 'no sentence was given.'}"
    ends: list[Any] = [small(shortened(name)), mark(item.verdict)]
    for piece in pieces(found):
        rows.append([ends[0], small(piece, keep_lines=True), ends[1]])
        ends = ["", ""]
