"""Discharges of the DC bus in the report: time constant, time from the highest voltage, and what is left."""

from typing import Any, Final

from reportlab.platypus import Flowable

from interlock.errors import EvidenceError
from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import shortened
from interlock.evidence.told import figures, told
from interlock.evidence.words import bounds, exact, instant
from interlock.timing.decision import judge
from interlock.verdict import Verdict

__all__ = ["discharges"]

_EXPLAIN: Final = (
    "One exponential was fitted to each discharge, from the contactor's opening on; each figure is a 95 % band. The "
    "highest voltage is the rated one, the highest of the supply, or the back-EMF at top speed. These figures change "
    "no verdict. The bus may be live whatever they say: prove it dead with a meter before touching."
)
_SHOWN: Final = {Verdict.PASS: True, Verdict.FAIL: False}
_WIDTHS: Final = (100.0, 84.0, 84.0, 40.0, 74.0)


def discharges(material: Material) -> list[Flowable]:
    """A heading and a table; nothing where the log shows no discharge."""
    return told(
        material,
        "discharges",
        _rows,
        title="Discharge of the DC bus",
        explain=_EXPLAIN,
        names=(
            "Function; what it says",
            "Demand",
            "Time constant",
            "From highest",
            "Limit",
            "Left after 5 s",
        ),
        widths=_WIDTHS,
        room=150,
    )


def _rows(row: Fields, table: list[list[Any]], style: list[tuple[Any, ...]]) -> None:
    limit, taken = row.number("limit_ns"), row.span("taken_ns")
    if limit is None:
        raise EvidenceError(f"{row.where}: entry 'limit_ns' is missing; make the result anew")
    shown = None if taken is None else _SHOWN.get(judge(taken, limit))
    if row.get("holds") not in {None, shown}:
        raise EvidenceError(f"{row.where}.holds: contradicts taken_ns and limit_ns; make the result anew")
    constant, left = row.items("time_constant_s"), row.items("remaining_v")
    demand = row.span("demand_ns")
    cells = [
        shortened(row.need("function")),
        "before the log" if demand is None else instant(demand),
        "not known" if not constant else f"{constant[1]:.4g} to {constant[2]:.4g} s",
        "not known" if taken is None else bounds(taken, limit),
        exact(limit),
        "not known" if not left else f"{left[0]:.3g} to {left[1]:.3g} V",
    ]
    figures(cells, row.need("sentence"), table, style)
