"""What a check found, as data that serialises to JSON by the published schema."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from interlock.chain.clearing_result import Clearing
from interlock.chain.fault_list import Excluded
from interlock.chain.fault_result import FaultReport
from interlock.chain.story import Story
from interlock.chain.words import Act
from interlock.verdict import Verdict, worst

__all__ = ["SCHEMA_ID", "CheckResult", "PropertyResult", "Witness", "check_schema"]

SCHEMA_ID = "interlock/check/1"


@dataclass(frozen=True, slots=True)
class Witness:
    """A situation in which a property is put to the test, and the shortest acts to it (None: none exist)."""

    what: str
    acts: tuple[Act, ...] | None

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        acts = [] if self.acts is None else [_brief(act) for act in self.acts]
        return {"what": self.what, "occurs": self.acts is not None, "acts": acts}


@dataclass(frozen=True, slots=True)
class PropertyResult:
    """One property's verdict; `acts` is the shortest way to a violation, empty without one, `story` what it shows."""

    id: str
    function: str | None
    subject: str | None
    title: str
    verdict: Verdict
    requirement: str
    source: str
    sentence: str
    acts: tuple[Act, ...]
    premise: tuple[Witness, ...]
    story: Story | None = None

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "id": self.id,
            "function": self.function,
            "subject": self.subject,
            "title": self.title,
            "verdict": self.verdict.value,
            "requirement": self.requirement,
            "source": self.source,
            "sentence": self.sentence,
            "acts": [{**_brief(act), "changes": list(act.changes), "after": act.after} for act in self.acts],
            "premise": [witness.as_json() for witness in self.premise],
            "story": None if self.story is None else self.story.as_json(),
        }


@dataclass(frozen=True, slots=True)
class CheckResult:
    """The whole of a check: what was explored, what was judged, under which assumptions."""

    bench_id: str
    bench_name: str
    states: int
    transitions: int
    whole: bool  # every reachable state was seen
    properties: tuple[PropertyResult, ...]
    assumptions: tuple[str, ...]
    exclusions: tuple[Excluded, ...] = ()
    report: FaultReport | None = None  # None: faults were not judged
    clearing: Clearing | None = None  # None: faults were not judged

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of all properties."""
        return worst(one.verdict for one in self.properties)

    def as_json(self, fingerprint: str | None = None) -> dict[str, Any]:
        """Plain data by `check.schema.json`, naming the bench's fingerprint if given."""
        bench = {"id": self.bench_id, "name": self.bench_name}
        return {
            "schema": SCHEMA_ID,
            "verdict": self.verdict.value,
            "bench": bench if fingerprint is None else {**bench, "fingerprint": fingerprint},
            "states": self.states,
            "transitions": self.transitions,
            "whole": self.whole,
            "properties": [one.as_json() for one in self.properties],
            "assumptions": list(self.assumptions),
            "fault_search": None if self.report is None else self.report.search.as_json(),
            "faults": [] if self.report is None else [one.as_json() for one in self.report.faults],
            "categories": [] if self.report is None else [one.as_json() for one in self.report.categories],
            "exclusions": [one.as_json() for one in self.exclusions],
            "clearing": None if self.clearing is None else self.clearing.as_json(),
        }


def check_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of `CheckResult.as_json()`."""
    text = Path(__file__).with_name("check.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def _brief(act: Act) -> dict[str, Any]:
    return {"who": act.who, "words": act.words, "kind": act.kind.value, "device": act.device}
