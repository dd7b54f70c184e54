"""Which value of each uncertain input one computation uses: pessimistic, optimistic, or with some held fixed."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from interlock.rating.uncertainty import Range

__all__ = ["Ends"]


@dataclass(frozen=True, slots=True)
class Ends:
    """Each input at its worse end (`pessimistic`) or its better one, except those in `fixed`, by name."""

    pessimistic: bool
    fixed: Mapping[str, float] = field(default_factory=dict)
    seen: dict[str, Range] = field(default_factory=dict)  # every input asked for, by name

    def value(self, name: str, known: Range) -> float:
        """The end that this computation uses."""
        self.seen[name] = known
        return self.fixed.get(name, known.worse_end if self.pessimistic else known.better_end)

    def other_end(self, name: str, known: Range) -> float:
        """The end that the input may have as well: needed where better and worse depend on other inputs."""
        return self.fixed.get(name, known.better_end if self.pessimistic else known.worse_end)
