"""Guards in series lower the coverage of their contacts, whatever the logic claims: ISO/TR 24119:2015."""

from typing import Final

from interlock.rating.chain_facts import ChainFacts
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.inputs_subsystem import Subsystem

__all__ = ["masking_notes", "with_masking"]

_ORDER: Final = ("none", "low", "medium")


def with_masking(inputs: RatingInputs, chain: ChainFacts | None) -> RatingInputs:
    """The inputs with the coverage of each subsystem limited to what the wiring of its guards allows.

    A subsystem that is rated by its maker keeps its level: `masking_notes` says so.
    """
    if chain is None or not chain.masked:
        return inputs
    functions = {name: _function(one, chain) for name, one in inputs.functions.items()}
    return inputs.model_copy(update={"functions": functions})


def masking_notes(function: Function, chain: ChainFacts | None) -> tuple[str, ...]:
    """What a reader must know of the guards in series among the devices of the function."""
    if chain is None:
        return ()
    found = []
    for name, subsystem in function.subsystems.items():
        for sentence in dict.fromkeys(
            chain.masked[one][1] for one in subsystem.devices if one in chain.masked
        ):
            found.append(f"{name}: {sentence}")
            if subsystem.category is None:
                found.append(f"{name} is rated by its maker: ask whether that holds for guards in series.")
    return tuple(found)


def _function(function: Function, chain: ChainFacts) -> Function:
    subsystems = {name: _subsystem(one, chain) for name, one in function.subsystems.items()}
    return function.model_copy(update={"subsystems": subsystems})


def _subsystem(subsystem: Subsystem, chain: ChainFacts) -> Subsystem:
    classes = [chain.masked[one][0] for one in subsystem.devices if one in chain.masked]
    if not classes or subsystem.category is None:
        return subsystem
    stated = [] if subsystem.coverage_at_most is None else [subsystem.coverage_at_most]
    return subsystem.model_copy(update={"coverage_at_most": min([*classes, *stated], key=_ORDER.index)})
