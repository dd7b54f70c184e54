"""What a pass rests on: rules read in the bench's favour, each stated only where it makes a difference."""

from collections.abc import Iterator

from interlock.chain import ir
from interlock.chain.effect_rules import strict_supply
from interlock.chain.observers import disagreed
from interlock.chain.requirement import Requirement
from interlock.chain.views import Views

__all__ = ["assumptions"]


def assumptions(required: Requirement, views: Views) -> Iterator[str]:
    """Sentences for the report, the general ones first."""
    yield "Every device works as its kind states and the wiring is as described: faults are not judged here."
    yield (
        "The model has no clock: a late reaction may come at any later moment, except that acts which take "
        "longer than it come after it. How long anything takes is judged on logs."
    )
    for name, function in required.functions.items():
        held = strict_supply(required, name, function)
        if held is not None and _occurs(views, held) and function.supply is not None:
            button, device = required.name(function.supply.on_by), required.name(function.demand)
            yield (
                f"Nobody holds the {button} while the {device} is released: held through the release it counts "
                "as pressed anew, and this bench then closes the main contactor."
            )
        if function.channels is not None and _occurs(views, _masked(required, name)):
            device = required.name(function.demand)
            yield (
                f"A disagreement of the two channels of the {device} may be cleared by another stop device in "
                "series that opens both channels (fault masking, ISO/TR 24119): on this bench it can be."
            )


def _occurs(views: Views, term: ir.Term) -> bool:
    """The situation was seen, or may lie where nobody looked."""
    view = views.of([term])
    return not view.whole or bool(view.nodes_where(term).any())


def _masked(required: Requirement, name: str) -> ir.Term:
    permitted = ir.any_of(required.permit(unit) for unit in required.units)
    return ir.all_of([disagreed(name, strict=True), permitted])
