"""Events that may not be under faults: torque nobody asked for, braking left out or cut short, supply that returns."""

from collections.abc import Iterator
from dataclasses import dataclass

from interlock.chain import ir
from interlock.chain.bent import Faulty
from interlock.chain.effect_rules import closes_again
from interlock.chain.losses import Loss, Rule, full_demand, losses
from interlock.chain.power_rules import cut_short, ramp_begins, torque_goes_unbraked
from interlock.chain.requirement import Requirement

__all__ = ["Misstep", "missteps", "spoken_of", "watched_terms"]


@dataclass(frozen=True, slots=True)
class Misstep:
    """An event that must not be: a function's effect is lost, a rule is broken, or torque begins that nobody asked for.

    `function` and `effect` are empty for a start. With `begins` the event must not be if nobody acts after one that
    begins, no fault arrives, and each late reaction comes when its stated time is over (`interlock.chain.by_times`).
    """

    device: str  # that starts, or of which something is said
    event: ir.Term
    complaint: str = "torque begins"
    function: str = ""
    effect: str = ""  # or the name of the rule
    rule: Rule | None = None
    begins: ir.Term | None = None

    @property
    def starts(self) -> bool:
        """The device starts although nobody means it to."""
        return not self.function


def missteps(faulty: Faulty) -> tuple[Misstep, ...]:
    """For each unit: its torque begins by an act that is not meant to start it, by itself, or by a fault.

    And for each that a stop of category 1 must brake: its torque goes without that, or before the ramp is over. And
    where no time is stated in which it must be gone: the supply comes back.
    """
    person = faulty.person

    def unasked(unit: str) -> ir.Term:
        meant = ir.any_of([person.starts(unit), person.held()])
        return ir.all_of([ir.rises(person.torque(unit)), ir.no(meant)])

    return (*(Misstep(unit, unasked(unit)) for unit in person.units), *_unbraked(faulty), *_supplied(faulty))


def _unbraked(faulty: Faulty) -> Iterator[Misstep]:
    person = faulty.person
    for name, function in person.functions.items():
        for unit in person.braked_by(name):
            asked = f"although the {person.name(function.demand)} asks for a stop of category 1"
            complaint = f"the {person.name(unit)} loses its torque without having braked {asked}"
            event = torque_goes_unbraked(person, name, unit, full_demand(person, name))
            yield Misstep(unit, event, complaint, name, "braking", Rule("braking", name, unit))
            yield Misstep(
                unit,
                cut_short(faulty.truth, unit),
                f"by the stated times the {person.name(unit)} loses its torque while it still brakes, {asked}",
                name,
                "ramp_completed",
                Rule("ramp_completed", name, unit),
                ramp_begins(person, name, unit),
            )


def _supplied(faulty: Faulty) -> Iterator[Misstep]:
    person = faulty.person
    for name, function in person.functions.items():
        if (supply := function.supply) is not None and person.bench.required.effects.contactor_open is None:
            button = f"although nobody pressed the {person.name(supply.on_by)} anew"
            complaint = f"the {person.supply_name(supply.of)} closes again, be it for a moment only, {button}"
            event = closes_again(faulty.truth, name, supply.of)
            yield Misstep(supply.of, event, complaint, name, "supply_stays_off")


def watched_terms(faulty: Faulty) -> list[ir.Term]:
    """All terms that losses and missteps are told by."""
    wrong = missteps(faulty)
    begins = (one.begins for one in wrong if one.begins is not None)
    return [*(one.term for one in losses(faulty)), *(one.event for one in wrong), *begins]


def spoken_of(person: Requirement, what: Loss | Misstep) -> frozenset[str]:
    """The devices and memories that a loss or misstep is about, its own demand among them."""
    if isinstance(what, Misstep):
        if what.starts:
            return frozenset({person.bench.required.reset.by, *person.units})
        return frozenset({what.device, person.functions[what.function].demand})
    atoms = {atom.field for atom in ir.atoms(what.term) if not isinstance(atom, ir.By)}
    return frozenset({*atoms, *({person.functions[what.function].demand} if what.function else ())})
