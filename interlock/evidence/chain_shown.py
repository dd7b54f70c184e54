"""What the chain as built shows for a rating: cover, guard locking, and the faults that the proof test finds."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from interlock.bench import Bench, kinds_of
from interlock.bench.yaml_source import YamlSource
from interlock.chain import check
from interlock.chain.fault_list import considered
from interlock.chain.fault_result import FaultReport
from interlock.errors import BenchError, InterlockError, Problem
from interlock.evidence.chain_cover import Losing, uncovered, uncovered_low_demand
from interlock.procedure.derive import derive
from interlock.rating.chain_facts import ChainFacts, Lock
from interlock.rating.inputs import RatingInputs
from interlock.rating.masking import masking_of
from interlock.verdict import Verdict

__all__ = ["chain_facts", "refuse_strange_faults"]

_LOCK: Final = "locked_until_standstill"
_BY_TIME: Final = "a stated time frees it, whether the shaft stands or not: write unlock: delay, and time it"
_FOR_EVER_NS: Final = 10**15  # eleven days: longer than any lock waits


@dataclass(frozen=True, slots=True)
class _Tested:
    """What the derived proof test shows of each fault, or why no test could be derived."""

    revealed: Mapping[str, bool] | None
    why: str


def chain_facts(bench: Bench, source: YamlSource, inputs: RatingInputs, report: FaultReport) -> ChainFacts:
    """Everything that `rate` wants to know of the chain; only what the section asks for is worked out.

    `report`: what the search under faults found.
    """
    tested = _tested(bench) if inputs.low_demand else _Tested(None, "no function is rated in low demand")
    losing = _losing(bench, report)
    return ChainFacts(
        uncovered(bench, source, inputs, losing),
        uncovered_low_demand(bench, source, inputs, losing),
        dict(_locked(bench, inputs, report)),
        tested.revealed,
        tested.why,
        {guard: (one.dc, one.sentence) for one in masking_of(bench) for guard in one.series.guards},
        tuple(
            name for name, one in bench.required.functions.items() if _is_emergency_stop(bench, one.demand)
        ),
    )


def _is_emergency_stop(bench: Bench, device: str) -> bool:
    return bench.devices[device].kind == "emergency_stop"


def refuse_strange_faults(bench: Bench, source: YamlSource, inputs: RatingInputs) -> None:
    """BenchError for shares of faults that the bench does not have."""
    if problems := list(_strange_faults(bench, source, inputs)):
        raise BenchError(problems)


def _losing(bench: Bench, report: FaultReport) -> Losing:
    """By function and effect the devices of which one fault alone loses it; shorts within a cable are of no device."""
    found: dict[tuple[str, str], set[str]] = {}
    for one in report.faults:
        device = one.set[0].partition(".")[0]
        if len(one.set) == 1 and device in bench.devices:
            for effect in one.effects:
                found.setdefault(effect, set()).add(device)
    return found


def _locked(bench: Bench, inputs: RatingInputs, report: FaultReport) -> Iterator[tuple[str, Lock]]:
    """By function with a guard that is said to be locked: whether the chain holds it so; absent: a delay without lock.

    A guard that opens at standstill only needs a device that tells it; one that opens after a time is locked by a
    device, or by a bolt that the chain knows nothing of.
    """
    wanted = {
        name: function.guard.unlock
        for name, function in inputs.functions.items()
        if function.guard is not None and function.guard.unlock != "none"
    }
    checked = check(bench).properties if wanted else ()
    for name, unlock in wanted.items():
        found = next((one for one in checked if (one.id, one.function) == (_LOCK, name)), None)
        if found is None:
            if unlock == "standstill":
                yield name, Lock(Verdict.NOT_OBSERVED, "no device of the chain locks this guard")
        elif unlock == "standstill" and not _tells_standstill(bench, name):
            why = (
                "no device tells the chain when the shaft stands, so the lock only waits for the torque to go"
            )
            yield name, Lock(Verdict.NOT_OBSERVED, why)
        elif (
            unlock == "standstill"
            and found.verdict is Verdict.PASS
            and not _waits_for_standstill(bench, name)
        ):
            yield name, Lock(Verdict.NOT_OBSERVED, _BY_TIME)
        else:
            freed = tuple(
                one.words[0] for one in report.faults if len(one.set) == 1 and (name, _LOCK) in one.effects
            )
            yield name, Lock(found.verdict, _within(found.sentence), freed, _takes_s(bench, name))


def _waits_for_standstill(bench: Bench, function: str) -> bool:
    """The lock holds however long the shaft runs down: it is freed by what tells of standstill, not by time alone."""
    effect = bench.required.effects.standstill
    if effect is None:
        return False
    shaft = bench.devices[effect.of]
    delays = dict.fromkeys(kinds_of(bench)[shaft.kind].delays, _FOR_EVER_NS)
    longer = bench.model_copy(
        update={"devices": {**bench.devices, effect.of: shaft.model_copy(update={"delays": delays})}}
    )
    return any(
        (one.id, one.function, one.verdict) == (_LOCK, function, Verdict.PASS)
        for one in check(longer).properties
    )


def _takes_s(bench: Bench, function: str) -> float | None:
    """The shortest stated time of the acts that free the function's guard; None: none of them takes any."""
    kind = kinds_of(bench)[bench.devices[bench.required.functions[function].demand].kind]
    locked = {state for state in kind.states if kind.shown_in(state)["locked"]}
    frees = [one.takes for one in kind.transitions if one.to not in locked and locked & set(one.source)]
    return min(frees) / 1e9 if frees and min(frees) > 0 else None


def _within(sentence: str) -> str:
    """A sentence as part of another one."""
    return sentence[:1].lower() + sentence[1:].rstrip(".")


def _tells_standstill(bench: Bench, function: str) -> bool:
    """The function ends the motion, and the shaft has an output that tells when it stands."""
    effect = bench.required.effects.standstill
    if effect is None or "standstill" not in bench.required.functions[function].effects:
        return False
    return "still" in kinds_of(bench)[bench.devices[effect.of].kind].outputs


def _tested(bench: Bench) -> _Tested:
    try:
        plan = derive(bench)
    except BenchError:
        raise
    except InterlockError as error:
        return _Tested(None, str(error))
    shown = {fault for step in plan.steps for fault in step.reveals}
    return _Tested({one.id: one.id in shown for one in considered(bench)}, "")


def _strange_faults(bench: Bench, source: YamlSource, inputs: RatingInputs) -> Iterator[Problem]:
    known = [one.id for one in considered(bench)]
    for name, given in inputs.low_demand.items():
        for each, element in given.elements.items():
            for fault in element.fault_shares or {}:
                if fault not in known:
                    path = ("rating", "low_demand", name, "elements", each, "fault_shares", fault)
                    own = [one for one in known if one.partition(".")[0] in element.devices]
                    why, instead = "no such fault is considered", f"name one of {', '.join(own)}"
                    yield source.problem(path, f"'{fault}'", why, instead, at_key=True)
