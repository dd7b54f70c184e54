"""Values that cannot be: no number at all, or outside the range that the description states."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from interlock.trace.layout import SignalLayout
from interlock.trace.model import QualityKind

__all__ = ["Flaw", "can_be_flawed", "flaws_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Flaw:
    """One thing that may be wrong with a value, and the values of which it is."""

    kind: QualityKind
    text: str
    bad: NDArray[np.bool_]


def can_be_flawed(layout: SignalLayout) -> bool:
    """Whether any value of this signal can have a flaw."""
    return layout.is_float or bool(layout.codes) or None not in (layout.minimum, layout.maximum)


def flaws_of(layout: SignalLayout, values: NDArray[np.float64]) -> Iterator[Flaw]:
    """What may be wrong with values of this signal; each value is looked at by itself."""
    if layout.is_float:
        yield Flaw(QualityKind.NOT_A_NUMBER, "no number, or infinite", ~np.isfinite(values))
    if layout.codes:
        yield Flaw(QualityKind.OUT_OF_RANGE, "bits that stand for nothing known", np.isnan(values))
    low, high = layout.minimum, layout.maximum
    if low is None or high is None or not len(values):
        return
    rounding = 1e-9 * max(abs(low), abs(high))  # scale times raw value is not exact
    low_limit, high_limit = low - rounding, high + rounding
    if values.min() >= low_limit and values.max() <= high_limit:
        return
    outside = (values < low_limit) | (values > high_limit)
    text = f"outside the range from {low:g} to {high:g} {layout.unit}".rstrip()
    yield Flaw(QualityKind.OUT_OF_RANGE, text, outside)
