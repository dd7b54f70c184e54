"""What all properties of one safety function have in common."""

from collections.abc import Mapping
from dataclasses import dataclass

from interlock.bench import Function
from interlock.chain import ir
from interlock.chain.property import Claim, NeverLasts, Premise, Property
from interlock.chain.requirement import Requirement

__all__ = ["Frame"]


@dataclass(frozen=True, slots=True)
class Frame:
    """A function, told by the name of the device that demands it, and by its title where something is required."""

    required: Requirement
    name: str

    @property
    def function(self) -> Function:
        """The function as the bench file states it."""
        return self.required.functions[self.name]

    @property
    def device(self) -> str:
        """What people call the device that demands it."""
        return self.required.name(self.function.demand)

    @property
    def demand(self) -> ir.Term:
        """It is demanded, in a mode in which it is required."""
        return self.required.demand(self.name)

    def lasts(self, culprits: Mapping[str, ir.Term], within_ns: int | None) -> NeverLasts:
        """None of these is there while the function is demanded, from so long after the demand on."""
        demand = self.demand
        found = {who: ir.all_of([demand, term]) for who, term in culprits.items()}
        return NeverLasts(found, within_ns, demand)

    def begins(self, while_: ir.Term, words: str) -> Premise:
        """The demand begins while the term holds, in words too."""
        return Premise(*self.required.begins(self.name, while_, words))

    def rule(
        self,
        id_: str,
        subject: str | None,
        title: str,
        must: str,
        source: str,
        claim: Claim,
        premises: tuple[Premise, ...],
        complaint: str,
    ) -> Property:
        """A property of the function; `title` and `must` go on after its device and its own title."""
        return Property(
            id_,
            self.name,
            subject,
            f"{self.device}: {title}",
            f"{self.function.title}: {must}",
            f"{source}; {self.function.source}",
            claim,
            premises,
            complaint,
        )
