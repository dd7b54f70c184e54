"""A timing picture for each demand, and in words what was judged for it without a latency."""

from collections.abc import Iterator

from reportlab.platypus import Flowable, KeepTogether, Spacer

from interlock.evidence.lanes import Panel, complete, panels, reach_ns
from interlock.evidence.material import Demand, Finding, Material
from interlock.evidence.pictures import draw, lane_height
from interlock.evidence.style import FRAME_HEIGHT, heading, note, said, shortened
from interlock.evidence.words import SHORT, effect_words, instant

__all__ = ["page_sized", "pictures"]

_TALLEST = FRAME_HEIGHT - 150
_EXPLAIN = (
    "Zero is the earliest instant at which the demand can have begun; the shaded stretch is the doubt about "
    "it. A bar spans the bounds of a latency, an arrow means that no upper bound is known, the heavy line is "
    "the limit. Solid pale bar: pass. Solid dark bar: FAIL. Dashed empty bar: inconclusive. Dotted empty bar: "
    "not observed. A signal is drawn in the shortest stretch of time by whose end it has settled; straight "
    "lines between samples are drawn for the eye only."
)


def pictures(material: Material) -> list[Flowable]:
    """A heading, then one or more panels a demand, each panel whole on its page."""
    lead = [*heading("Timing of each demand")[1:], note(_EXPLAIN)]
    out: list[Flowable] = []
    for demand, findings in complete(material.demands, material.findings):
        out += _demand(demand, findings, lead)
        lead = []
    return out


def _demand(demand: Demand, findings: list[Finding], lead: list[Flowable]) -> list[Flowable]:
    device = f" by {demand.device}" if demand.device else ""
    name = said(f"Demand {demand.number}: {demand.function}{device}, at {instant(demand.onset)}")
    top = [*lead, Spacer(0, 8), name, Spacer(0, 3)]
    words = _without_picture(findings)
    if demand.onset is None:
        return [*top, note("Its onset is not known, so nothing can be drawn."), *words]
    onset = demand.onset
    drawn = [
        draw(part, onset) for panel in panels(onset, findings, demand.pictures) for part in page_sized(panel)
    ]
    more = note(f"Demand {demand.number}, {shortened(demand.function)}: more, to its own scale")
    rest = [KeepTogether([Spacer(0, 6), more, drawing]) for drawing in drawn[1:]]
    return [KeepTogether([*top, *drawn[:1]]), *rest, *words]


def page_sized(panel: Panel) -> Iterator[Panel]:
    """The panel, cut between lanes into parts that each fit on a page."""
    while lane_height(panel) > _TALLEST:
        findings, series = panel.findings[:20], panel.series[: 8 if not panel.findings else 0]
        yield Panel(panel.end_ns, findings, series)
        panel = Panel(panel.end_ns, panel.findings[len(findings) :], panel.series[len(series) :])
    yield panel


def _without_picture(findings: list[Finding]) -> list[Flowable]:
    left = [f for f in findings if not reach_ns(f)]
    if not left:
        return []
    listed = "; ".join(f"{f.number} {_words(f)}" for f in left)
    return [Spacer(0, 2), note(f"Also judged for this demand, without a length of time: {listed}.")]


def _words(finding: Finding) -> str:
    subject = f", {finding.subject}" if finding.subject else ""
    return f"{shortened(effect_words(finding.effect) + subject)}: {SHORT[finding.verdict]}"
