"""A judgement as text: a table of what was judged, then each finding that is no pass, then what was read."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from interlock.cli.coast_page import show_coast_downs
from interlock.cli.common import said
from interlock.cli.decision_page import show_decisions
from interlock.cli.discharge_page import show_discharges
from interlock.cli.repeat_page import show_repeats
from interlock.cli.temperature_page import show_temperatures
from interlock.interval import ms_up
from interlock.replay import Finding, Judgement
from interlock.replay.coasting import coast_downs
from interlock.replay.decided import decided
from interlock.replay.discharging import discharges
from interlock.replay.repeats import repeated
from interlock.replay.temperatures import temperatures
from interlock.trace.model import Quality, QualityKind
from interlock.verdict import Verdict, worst

__all__ = ["show"]

_TOLD: Final = frozenset({QualityKind.EMERGENCY, QualityKind.NODE_STATE, QualityKind.SET_UP})
_FACTS: Final = 10  # of these are shown


def show(page: Console, judgement: Judgement, fingerprint: str, *, every: bool) -> None:
    """Print the judgement."""
    seen = judgement.observation
    identity = seen.bench.bench
    page.print(f"{identity.name} ({identity.id}), fingerprint {fingerprint[:16]}…", soft_wrap=True)
    for source in seen.trace.sources:
        counts = f"{source.frames} frames, {source.non_frames} other entries, {source.rejected} not read"
        page.print(f"{source.path}: {source.format}, {counts}", soft_wrap=True)
    for note in judgement.notes:
        page.print(f"note: {note}", soft_wrap=True)
    for fact in _facts(seen.trace.quality, every=every):
        page.print(fact, soft_wrap=True)
    page.print(_table(judgement.findings))
    for finding in judgement.findings:
        if every or finding.verdict is not Verdict.PASS:
            page.print(_line(finding), soft_wrap=True)
    show_repeats(page, repeated(judgement.findings))
    coasts, falls, rule = coast_downs(judgement), discharges(judgement), seen.bench.required.decision
    show_coast_downs(page, coasts)
    show_discharges(page, falls)
    show_temperatures(page, temperatures(judgement))
    show_decisions(page, decided(rule, judgement.findings, coasts, falls), rule)
    page.print(Text.assemble("Verdict: ", said(judgement.verdict), f" ({_counts(judgement.findings)})"))


def _facts(quality: Sequence[Quality], *, every: bool) -> list[Text]:
    """What the drives and other nodes said of themselves; the first ones of many."""
    told = [one for one in quality if one.kind in _TOLD]
    shown = told if every else told[:_FACTS]
    lines = [Text(f"{one.place}: {one.sentence}") for one in shown]
    more = len(told) - len(shown)
    return [*lines, Text(f"... and {more} more such; --all lists them")] if more else lines


def _table(findings: Sequence[Finding]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("function", "subject", "effect"):
        table.add_column(name)
    for name in ("judged", "longest ms", "limit ms"):
        table.add_column(name, justify="right")
    table.add_column("verdict")
    ordered = sorted(findings, key=_key)
    for (function, subject, effect), group in groupby(ordered, key=_key):
        same = list(group)
        seen = [one for one in same if one.verdict is not Verdict.NOT_OBSERVED]
        limit = next((f"{one.limit_ns / 1e6:g}" for one in same if one.limit_ns is not None), "")
        row = (function, subject, effect.replace("_", " "), str(len(seen)), _longest(same), limit)
        table.add_row(*row, said(worst(one.verdict for one in same)))
    return table


def _key(finding: Finding) -> tuple[str, str, str]:
    return finding.function, finding.subject, finding.effect


def _longest(findings: Sequence[Finding]) -> str:
    """The longest latency that the evidence allows, rounded up; '?' if it has no upper bound."""
    bounds = [one.latency.hi for one in findings if one.latency is not None]
    if not bounds:
        return ""
    known = [bound for bound in bounds if bound is not None]
    return "?" if len(known) < len(bounds) else ms_up(max(known))


def _line(finding: Finding) -> Text:
    at = "" if finding.demand is None else f" (demand at {finding.demand.lo / 1e9:.3f} s)"
    head = f" {finding.function}, {finding.subject}, {finding.effect.replace('_', ' ')}{at}: "
    return Text.assemble(said(finding.verdict), head, finding.sentence, f" [{finding.source}]")


def _counts(findings: Sequence[Finding]) -> str:
    counts = {verdict: sum(one.verdict is verdict for one in findings) for verdict in Verdict}
    return ", ".join(
        f"{count} {str(verdict).replace('_', ' ')}" for verdict, count in counts.items() if count
    )
