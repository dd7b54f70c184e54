"""Stops from maximum speed in the report: what each coast-down says of them, or why it says nothing."""

from typing import Any, Final

from reportlab.platypus import Flowable

from interlock.errors import EvidenceError
from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import shortened
from interlock.evidence.told import figures, told
from interlock.evidence.words import bounds, exact, instant
from interlock.interval import Interval
from interlock.timing.decision import judge
from interlock.verdict import Verdict

__all__ = ["coast_downs"]

_EXPLAIN: Final = (
    "Viscous and Coulomb friction were fitted to each coast-down, from when the torque was gone until standstill. The "
    "band holds the time from maximum speed with the stated confidence, counted from the demand. It knows nothing of "
    "other stops, other temperatures or the gain of the speed sensor. These figures change no verdict, and they "
    "replace no test from maximum speed."
)
_ANSWERS: Final = {Verdict.PASS: True, Verdict.FAIL: False}
_WIDTHS: Final = (100.0, 62.0, 92.0, 44.0, 58.0)


def coast_downs(material: Material) -> list[Flowable]:
    """A heading and a table; nothing where standstill was not put to the test."""
    return told(
        material,
        "coast_downs",
        _rows,
        title="From maximum speed",
        explain=_EXPLAIN,
        names=(
            "Function; what it says",
            "Demand",
            "Tested from",
            "From maximum speed",
            "Limit",
            "Holds there",
        ),
        widths=_WIDTHS,
        room=170,
    )


def _rows(row: Fields, table: list[list[Any]], style: list[tuple[Any, ...]]) -> None:
    limit, taken, tested = row.number("limit_ns"), row.span("taken_ns"), row.real("tested_speed_per_min")
    if limit is None:
        raise EvidenceError(f"{row.where}: entry 'limit_ns' is missing; make the result anew")
    cells = [
        shortened(row.need("function")),
        instant(row.span("demand_ns")),
        "–" if tested is None else f"{tested:.0f} 1/min",
        "not known" if taken is None else bounds(taken, limit),
        exact(limit),
        _holds(row, taken, limit),
    ]
    figures(cells, f"{row.need('sentence')}{_friction(row)}", table, style)


def _holds(row: Fields, taken: Interval | None, limit_ns: int) -> str:
    """The result's answer in words; refused if it is not the one that its own figures give."""
    holds = None if taken is None else _ANSWERS.get(judge(taken, limit_ns))
    if row.get("holds") is not holds:
        raise EvidenceError(f"{row.where}.holds: contradicts taken_ns and limit_ns; make the result anew")
    return {True: "yes", False: "NO", None: "open"}[holds]


def _friction(row: Fields) -> str:
    """Both figures, where the bench states its inertia."""
    found = [row.items(key) for key in ("coulomb_nm", "viscous_nms_per_rad")]
    if not all(found):
        return ""
    coulomb, viscous = (Fields({"value": values[0]}, row.where).need_real("value") for values in found)
    return f" Friction at the stated inertia: {coulomb:.3g} Nm and {viscous:.3g} Nm s/rad."
