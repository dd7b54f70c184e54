"""A derived plan as a procedure, and a procedure as YAML text."""

from typing import Any, Final

import yaml

from interlock.bench.yaml_compose import legible
from interlock.cautions import CAUTIONS
from interlock.procedure.models import Cost, Head, Inspection, OfBench, Procedure, Step
from interlock.procedure.plan import Plan

__all__ = ["AFTER", "BEFORE", "as_yaml", "procedure_of"]

BEFORE: Final = (
    "A competent person has read these steps against the bench's own instructions and answers for the test.",
    "Nobody is in the chamber, the shaft is free, coupling and guards are fixed; who is near knows of the test.",
    "The recorder runs and shows frames; start it before the first step and stop it after the last.",
)
AFTER: Final = (
    "Set the references to zero, wait for standstill, stop the units, switch the supply off; wait for the "
    "discharge and measure it.",
    "Stop the recorder. Judge the log: interlock replay BENCH LOG. Only 'pass' is a pass; a step that was not as "
    "described is a failed test, whatever the log says.",
    "If anything was not as described: lock the bench off, tell the person responsible, repair, and test from step 1.",
    "Inspect what no act can show: see the list below.",
)
_HEAD: Final = (
    "# A procedure, written by `interlock plan`. Adapt it with care; it is checked when it is read.\n"
)


def procedure_of(plan: Plan, fingerprint: str | None) -> Procedure:
    """The plan as a procedure for the bench with this fingerprint (None: for any state of its description)."""
    return Procedure(
        procedure=Head(
            title=f"Proof test of {plan.bench_name}",
            purpose="periodic_proof_test",
            when="at the interval that the rating of the bench demands, and whenever a fault is suspected",
            source="derived from the bench description by interlock plan",
        ),
        bench=OfBench(id=plan.bench_id, name=plan.bench_name, fingerprint=fingerprint),
        cautions=list(CAUTIONS),
        before=list(BEFORE),
        steps=[
            Step(
                act=one.act,
                device=one.device or None,
                does=list(one.does),
                observe=list(one.observe),
                wait_s=one.wait_s,
                covers=list(one.covers),
                reveals=list(one.reveals),
            )
            for one in plan.steps
        ],
        after=[*AFTER, *plan.by_hand],
        cost=Cost(cost=plan.cost, lower_bound=plan.lower_bound, source=plan.costs_source, weights=plan.costs),
        not_exercised=list(plan.not_exercised),
        unrevealed=[Inspection(**one.as_json()) for one in plan.unrevealed],
    )


def as_yaml(procedure: Procedure) -> str:
    """YAML text that reads back as the same procedure."""
    content: dict[str, Any] = procedure.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    body = _dumped(content, unicode=True)
    return _HEAD + (body if legible(body) else _dumped(content, unicode=False))


def _dumped(content: dict[str, Any], *, unicode: bool) -> str:
    return str(yaml.dump(content, Dumper=_Dumper, sort_keys=False, allow_unicode=unicode, width=110))


class _Dumper(yaml.SafeDumper):
    """Indents lists below their keys, and writes each entry out: the reader takes no aliases."""

    def ignore_aliases(self, data: Any) -> bool:
        return True

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        super().increase_indent(flow, indentless=False)
