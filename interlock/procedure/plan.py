"""A derived proof test as data: its steps, what it costs, and what it leaves in the dark."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

__all__ = ["Dark", "Plan", "PlanStep", "plan_schema"]

_SCHEMA: Final = "interlock/plan/1"


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One act, what must be seen then, and what that proves."""

    number: int
    act: str
    device: str  # empty: the bench as a whole
    does: tuple[str, ...]  # the acts of the device's kind, in order
    observe: tuple[str, ...]
    wait_s: int  # how long to watch, at least, before the next act
    cost: int
    covers: tuple[str, ...]  # goals, `kind:function`
    reveals: tuple[str, ...]  # faults that show here at the latest, if they are there

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "number": self.number,
            "act": self.act,
            "device": self.device or None,
            "does": list(self.does),
            "observe": list(self.observe),
            "wait_s": self.wait_s,
            "cost": self.cost,
            "covers": list(self.covers),
            "reveals": list(self.reveals),
        }


@dataclass(frozen=True, slots=True)
class Dark:
    """A fault that no lawful act at the bench shows, why, and what to inspect instead."""

    fault: str
    words: str
    why: str
    inspect: str

    def as_json(self) -> dict[str, str]:
        """Plain data."""
        return {"fault": self.fault, "words": self.words, "why": self.why, "inspect": self.inspect}


@dataclass(frozen=True, slots=True)
class Plan:
    """The cheapest sequence found, and the proved least that any complete one costs."""

    bench_id: str
    bench_name: str
    cost: int
    lower_bound: int
    costs: dict[str, int]
    costs_source: str
    steps: tuple[PlanStep, ...]
    unrevealed: tuple[Dark, ...]
    not_exercised: tuple[str, ...]  # goals that no lawful act can reach: the bench does not allow it
    exclusions: tuple[dict[str, str], ...]
    by_hand: tuple[str, ...] = ()  # what a person measures beside the steps, since no log shows it

    def as_json(self, fingerprint: str | None = None) -> dict[str, Any]:
        """Plain data."""
        bench = {"id": self.bench_id, "name": self.bench_name}
        return {
            "schema": _SCHEMA,
            "bench": bench if fingerprint is None else {**bench, "fingerprint": fingerprint},
            "cost": self.cost,
            "lower_bound": self.lower_bound,
            "costs": self.costs,
            "costs_source": self.costs_source,
            "steps": [one.as_json() for one in self.steps],
            "unrevealed": [one.as_json() for one in self.unrevealed],
            "not_exercised": list(self.not_exercised),
            "exclusions": list(self.exclusions),
            "by_hand": list(self.by_hand),
        }


def plan_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of `Plan.as_json()`."""
    text = Path(__file__).with_name("plan.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema
