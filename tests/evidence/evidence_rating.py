"""Ratings of the built-in bench as a report's material, with a structure that somebody has shown or has not."""

import copy
import functools
from collections.abc import Collection, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from evidence_material import BENCH, FINGERPRINT, sample

from interlock.bench import load_bench
from interlock.demo.walk import BENCH_FILE
from interlock.evidence.chain_shown import chain_facts
from interlock.evidence.material import ReportMaterial
from interlock.evidence.rated import bus_requirement, rating_document
from interlock.evidence.structure import fault_report
from interlock.rating.chain_facts import ChainFacts
from interlock.rating.rate import rate
from interlock.rating.result import RatingResult
from interlock.rating.section import rating_and_places, rating_of

DAY = date(2026, 3, 4)
FUNCTIONS = ("hood_stop", "button_stop", "emergency_stop")
SHOWN = dict.fromkeys(FUNCTIONS, ("B", "1", "2", "3"))
BRIDGED = SHOWN | {"button_stop": ("B", "1")}  # as of a button with one contact


def result_of(
    supported: Mapping[str, Collection[object] | None] | None, bench_file: Path = BENCH_FILE
) -> RatingResult:
    """The rating of a bench without any log, its structure as somebody says, its chain as it is wired."""
    bus, chain = bus_requirement(load_bench(bench_file)), _chain(bench_file)
    return rate(rating_of(bench_file), supported_categories=supported, chain=chain, bus=bus, today=DAY)


@functools.cache
def _chain(bench_file: Path) -> ChainFacts:
    (inputs, source), bench = rating_and_places(bench_file), load_bench(bench_file)
    return chain_facts(bench, source, inputs, fault_report(bench, inputs))


@functools.cache
def _document(name: str) -> dict[str, Any]:
    supported = {"shown": SHOWN, "bridged": BRIDGED, "not shown": None}[name]
    return rating_document(load_bench(BENCH_FILE), FINGERPRINT, result_of(supported), {})


def document(name: str = "shown") -> dict[str, Any]:
    """A fresh copy of the rating's JSON: "shown", "bridged" or "not shown"."""
    return copy.deepcopy(_document(name))


def rated_sample(name: str = "shown", **changes: Any) -> ReportMaterial:
    """A report of everything, with a rating."""
    return sample(**({"rating": document(name)} | changes))


def rating_alone(name: str = "shown", **changes: Any) -> ReportMaterial:
    """A report of a rating and nothing else."""
    assert BENCH["fingerprint"] == FINGERPRINT
    return rated_sample(name, **({"check": None, "replay": None} | changes))
