"""A register made up for the tests (no real bench), and a second, plain reading of its chain."""

import hashlib
import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from interlock.register import (
    BenchName,
    Changed,
    Operations,
    Person,
    ProofTest,
    Register,
    Replaced,
    Withdrawn,
    append,
    create,
    load_register,
)
from interlock.register.entries import FunctionTest, LogFile, Timing
from interlock.verdict import Verdict

BENCH = BenchName(id="press_2", name="Bench für Pumpen", fingerprint="a" * 64)
OTHER = BenchName(id="press_3", name="another bench", fingerprint="b" * 64)


def at(day: str) -> datetime:
    """Noon of a day, UTC."""
    return datetime.fromisoformat(f"{day}T12:00:00+00:00").astimezone(UTC)


def proof(day: str, log: str = "run.log", **more: Any) -> ProofTest:
    """A passed test of one function."""
    timing = Timing(
        effect="torque_off",
        subject="drive",
        verdict=Verdict.PASS,
        latency_ns=(1_000_000, 9_000_000),
        limit_ns=80_000_000,
    )
    values: dict[str, Any] = {
        "date": date.fromisoformat(day),
        "verdict": Verdict.PASS,
        "rest": Verdict.PASS,
        "functions": {"cover_stop": FunctionTest(verdict=Verdict.PASS, timings=(timing,))},
        "logs": (LogFile(name=log, sha256=hashlib.sha256(log.encode()).hexdigest()),),
        "software": "0",
    }
    return ProofTest(**{**values, **more})


def counted(
    since: str, until: str, operations: int = 100, load_breaks: int = 2, device: str = "k1"
) -> Operations:
    """A count between two readings."""
    return Operations(
        device=device,
        since=date.fromisoformat(since),
        until=date.fromisoformat(until),
        operations=operations,
        load_breaks=load_breaks,
        source="counter",
    )


def replaced(day: str, device: str = "k1") -> Replaced:
    """A new part."""
    return Replaced(device=device, date=date.fromisoformat(day), part="serial 7")


def changed(day: str) -> Changed:
    """A rewiring."""
    return Changed(date=date.fromisoformat(day), what="rewired", devices=("k1",))


def made(path: Path) -> Register:
    """A register with each kind of line, of two benches."""
    create(path, now=at("2025-01-01"))
    append(path, BENCH, proof("2025-01-02"), now=at("2025-01-02"), by=Person(name="Ä. Prüfer", role="tester"))
    append(path, BENCH, counted("2025-01-02", "2025-06-30"), now=at("2025-07-01"), note="line\nbreak  kept")
    append(path, OTHER, replaced("2025-07-02"), now=at("2025-07-02"))
    append(path, BENCH, changed("2025-07-03"), now=at("2025-07-03"))
    append(path, BENCH, Withdrawn(withdraws=2, reason="misread"), now=at("2025-07-04"))
    append(path, BENCH, counted("2025-01-02", "2025-06-30", 90), now=at("2025-07-05"))
    return load_register(path)


def rehashed(line: bytes, **changes: Any) -> bytes:
    """The line with changed entries and a right hash of its own: what a forger would write."""
    body = {**json.loads(line), **changes}
    del body["sha256"]
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":"))[:-1]
    return f'{text},"sha256":"{hashlib.sha256(text.encode()).hexdigest()}"}}'.encode()
