"""What is due by registers made up for the tests, on the built-in bench."""

import functools
from datetime import date
from pathlib import Path
from typing import Any

from register_lines import at, proof

from interlock.bench import bench_fingerprint, load_bench
from interlock.rating.inputs import RatingInputs
from interlock.rating.section import rating_of
from interlock.register import BenchName, append, create, load_register
from interlock.register.due import Due, due_of
from interlock.register.entries import FunctionTest
from interlock.verdict import Verdict

FILE = Path(__file__).parents[2] / "interlock" / "demo" / "bench.yaml"
FUNCTIONS = ("hood_stop", "button_stop", "emergency_stop")


@functools.cache
def described():
    bench = load_bench(FILE)
    return bench, bench_fingerprint(FILE, bench), rating_of(FILE)


def name(**changes: str) -> BenchName:
    bench, fingerprint, _ = described()
    values = {"id": bench.bench.id, "name": bench.bench.name, "fingerprint": fingerprint}
    return BenchName(**{**values, **changes})


def test_of(day: str, rest: str = "pass", log: str | None = None, **verdicts: str):
    """A proof test that every function passed but those named."""
    functions = {
        each: FunctionTest(verdict=Verdict(verdicts.get(each, "pass")), timings=()) for each in FUNCTIONS
    }
    return proof(day, log or f"{day}{verdicts}.log", functions=functions, rest=Verdict(rest))


test_of.__test__ = False  # type: ignore[attr-defined]


def items(
    folder: Path, *contents: Any, today: str = "2026-06-01", rating: RatingInputs | None = None, bench=None
) -> dict[str, Due]:
    """What is due by a register with these entries, all of one bench."""
    path = folder / "r.jsonl"
    create(path, now=at("2025-01-01"))
    for content in contents:
        append(path, bench or name(), content, now=at("2027-12-31"))
    described_bench, fingerprint, stated = described()
    found = due_of(
        load_register(path), described_bench, fingerprint, rating or stated, date.fromisoformat(today)
    )
    return {one.subject: one for one in found}
