"""The decision rule in the report: as stated, and what each rule says of the times that were measured."""

from typing import Any, Final

from reportlab.platypus import Flowable, LongTable

from interlock.errors import EvidenceError
from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import FRAME, GRID, WIDTH, head, heading, note, shortened, small
from interlock.evidence.words import effect_words, exact
from interlock.interval import ms_up

__all__ = ["decisions"]

_EXPLAIN: Final = (
    "Of each kind of time the one that fares worst. U is its expanded uncertainty (95 %, JCGM 100), the risk the "
    "probability that the true time is above the limit, given what was measured (JCGM 106). Simple acceptance asks for "
    "measured at or below the limit and lets up to 50 % risk pass; a guard band w = U for measured at or below limit "
    "less U, with at most 2.3 %. Neither makes a pass of a time whose whole interval is not within its limit."
)
_RULES: Final = ("simple acceptance", "guard band")
_WIDTHS: Final = (34.0, 58.0, 48.0, 48.0, 52.0, 56.0, 44.0, 66.0)


def decisions(material: Material) -> list[Flowable]:
    """A heading, the rule that was stated, and a table; nothing where nothing was timed."""
    rows = [] if material.replay is None else list(material.replay.objects("decisions"))
    if material.replay is None or not rows:
        return []
    names = (
        "Effect, subject",
        "Times",
        "Measured",
        "U",
        "Limit",
        "Risk",
        "Simple acc.",
        "Guard",
        "Decided by",
    )
    table: list[list[Any]] = [[head(name) for name in names], *map(_row, rows)]
    style = [*FRAME, ("LINEBELOW", (0, 1), (-1, -1), 0.3, GRID)]
    return [
        *heading("Decision rules", room=170),
        note(_stated(material.replay)),
        note(_EXPLAIN),
        LongTable(table, colWidths=[WIDTH - sum(_WIDTHS), *_WIDTHS], style=style, repeatRows=1),
    ]


def _stated(replay: Fields) -> str:
    if "decision" not in replay:
        return "The bench file states no decision rule: the whole interval must be within its limit, and no more."
    rule = Fields.of(replay.get("decision"), f"{replay.where}.decision")
    chain = rule.number("measuring_chain_ns") or 0
    more = f", with an expanded uncertainty of the measuring chain of {exact(chain)}" if chain else ""
    return (
        f"Stated in the bench file: {rule.need('rule')}{more} [{rule.need('source')}]. The "
        "fingerprint on each page tells with which rule this report was made."
    )


def _row(row: Fields) -> list[Any]:
    limit, measured, wide = (
        row.number(key) for key in ("limit_ns", "measured_ns", "expanded_uncertainty_ns")
    )
    if limit is None:
        raise EvidenceError(f"{row.where}: entry 'limit_ns' is missing; make the result anew")
    _refuse_contradiction(row, limit)
    accepted = Fields.of(row.get("accepted"), f"{row.where}.accepted")
    name = f"{effect_words(row.need('what'))}, {row.need('subject')}"
    answers = [small(_ANSWERS[accepted.raw.get(rule)]) for rule in _RULES]
    return [
        small(shortened(name)),
        small(str(row.number("count"))),
        small("not known" if measured is None else f"{ms_up(measured)} ms"),
        small("not known" if wide is None else f"{ms_up(wide)} ms"),
        small(exact(limit)),
        small(_risk(row.real("false_acceptance"))),
        *answers,
        small(row.need("decided_by")),
    ]


_ANSWERS: Final = {True: "accepts", False: "REFUSES", None: "not known"}


def _refuse_contradiction(row: Fields, limit_ns: int) -> None:
    span = row.span("interval_ns")
    outside = span is None or span.hi is None or span.hi > limit_ns
    if outside and row.get("whole_interval_within") is not False:
        raise EvidenceError(
            f"{row.where}.whole_interval_within: contradicts interval_ns and limit_ns; make the result anew"
        )


def _risk(probability: float | None) -> str:
    if probability is None:
        return "not known"
    return "0" if probability == 0 else "below 1e-9" if probability < 1e-9 else f"{probability:.2g}"
