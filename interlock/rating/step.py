"""One computation as a record that a reviewer can follow with the standard and a pocket calculator."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

__all__ = ["Mark", "Step", "Trail", "shown"]

Result = TypeVar("Result", float, str)


class Mark(StrEnum):
    """Where a formula or a table cell comes from; every printed step carries one."""

    PUBLISHED = "seen in a public text of the standard or of its earlier edition"
    FROM_MEMORY = "from memory: check it once against a bought copy of the standard"
    COMPUTED = "computed"
    GIVEN = "given in the bench description"
    COUNTED = "counted, as the register holds it"
    UNCOUNTED = "given in the bench description, where counts are to decide and none was given"
    PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the computation: `formula` is plain arithmetic in the names of `numbers`.

    A looked-up or stated value has the words of the look-up as formula. `result` is not rounded.
    """

    title: str
    formula: str
    numbers: tuple[tuple[str, float | str], ...]
    source: str  # standard, edition, clause or table; or what the bench description says
    result: float | str
    unit: str
    mark: Mark

    def filled_in(self) -> str:
        """The formula with each name replaced by its number to six digits."""
        known = dict(self.numbers)
        return re.sub(r"[A-Za-z_]\w*", lambda name: shown(known.get(name[0], name[0])), self.formula)

    def __str__(self) -> str:
        used = f" = {self.filled_in()}" if self.filled_in() != self.formula else ""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.title}: {self.formula}{used} = {shown(self.result)}{unit} [{self.source}; {self.mark}]"


@dataclass(slots=True)
class Trail:
    """Collects the steps of one computation in the order in which they were made."""

    steps: list[Step] = field(default_factory=list)

    def note(
        self,
        title: str,
        formula: str,
        numbers: Mapping[str, float | str],
        result: Result,
        *,
        source: str,
        unit: str = "",
        mark: Mark = Mark.PUBLISHED,
    ) -> Result:
        """Record a step with its result, a number or a word (a class, a level), and hand that back."""
        self.steps.append(Step(title, formula, tuple(numbers.items()), source, result, unit, mark))
        return result


def shown(value: float | str) -> str:
    """A number to six digits, whole ones up to nine digits in full; a word as it is."""
    if isinstance(value, str):
        return value
    return f"{value:.0f}" if value == int(value) and abs(value) < 1e9 else f"{value:.6g}"
