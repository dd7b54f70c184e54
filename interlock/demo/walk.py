"""The whole job on the built-in bench, station by station; everything in it is invented.

Each station says what was done, what came of it, and whether that is what had to come of it: a wrong bench,
a defective log and a report with one changed byte must be refused.
"""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np

from interlock.bench import load_bench
from interlock.chain import CheckResult, check
from interlock.errors import InterlockError
from interlock.replay import Judgement, replay
from interlock.verdict import Verdict

__all__ = ["BENCH_FILE", "Station", "record", "walk"]

BENCH_FILE: Final = Path(__file__).with_name("bench.yaml")
_RIGHT: Final = "contactor.coil: emergency.c and (supply_on.pressed or contactor.aux)"
_WRONG: Final = "contactor.coil: supply_on.pressed or contactor.aux"
_SEED: Final = 4


@dataclass(frozen=True, slots=True)
class Station:
    """One station of the walk: the verdict that came out, and the one that had to."""

    title: str
    verdict: Verdict
    expected: Verdict
    says: tuple[str, ...]
    files: tuple[Path, ...]


def walk(folder: Path, *, now: datetime) -> Iterator[Station]:
    """Walk the job in `folder` (made if need be); each station is given as soon as it is done."""
    folder.mkdir(parents=True, exist_ok=True)
    bench = folder / "bench.yaml"
    for name in ("bench.yaml", "bench.dbc"):
        shutil.copyfile(BENCH_FILE.with_name(name), folder / name)
    yield _prove(bench, "Prove the chain of the bench as built, in every state", Verdict.PASS)
    yield _prove(
        _wrong_bench(bench),
        "The same bench with the emergency stop left out of the contactor's line",
        Verdict.FAIL,
    )
    sound = record(folder / "proof_test.log", None)
    yield _judge(bench, sound, "Judge the log of a proof test on the simulated bench", Verdict.PASS)
    late = record(folder / "late_brake.log", "SLOW_STO_LOAD")
    yield _judge(bench, late, "The same test on a bench whose brake loses its torque too late", Verdict.FAIL)
    yield from _evidence(folder, bench, sound, now)


def _prove(bench: Path, title: str, expected: Verdict) -> Station:
    result = check(load_bench(bench), file=bench)
    return Station(title, result.verdict, expected, tuple(_proved(result)), (bench,))


def _proved(result: CheckResult) -> Iterator[str]:
    yield f"{result.states} states and {result.transitions} steps explored, {len(result.properties)} properties judged"
    wrong = next((one for one in result.properties if one.verdict is Verdict.FAIL), None)
    if wrong is not None:
        yield wrong.sentence
        yield from (f"  {number}. {act.words}" for number, act in enumerate(wrong.acts, 1))


def _wrong_bench(bench: Path) -> Path:
    text = bench.read_text(encoding="utf-8")
    if _RIGHT not in text:
        raise InterlockError(
            f"{bench}: the line to be spoilt for the demo is not there; restore the built-in bench"
        )
    wrong = bench.with_name("wrong_bench.yaml")
    wrong.write_text(text.replace(_RIGHT, _WRONG), encoding="utf-8")
    return wrong


def record(path: Path, defect: str | None) -> Path:
    """Write the log of a proof test on the simulated bench, with one defect of its list or none."""
    from interlock.twin import EPOCH_S, Defect, cell, proof_test, run, write

    flaws = [] if defect is None else [Defect[defect]]
    made = run(cell(), proof_test(), np.random.default_rng(_SEED), flaws)
    write(made.log, EPOCH_S, path)
    return path


def _judge(bench: Path, log: Path, title: str, expected: Verdict) -> Station:
    judgement = replay(bench, load_bench(bench), [log])
    return Station(title, judgement.verdict, expected, tuple(_judged(judgement)), (log,))


def _judged(judgement: Judgement) -> Iterator[str]:
    source = judgement.observation.trace.sources[0]
    yield f"{source.frames} frames, {len(judgement.findings)} findings"
    torque = [one for one in judgement.findings if one.effect == "torque_off" and one.latency is not None]
    bounds = [one.latency.hi for one in torque if one.latency is not None and one.latency.hi is not None]
    if bounds and judgement.verdict is Verdict.PASS:
        yield f"torque off at the latest {max(bounds) / 1e6:.1f} ms after a demand, in {len(torque)} cases"
    wrong = next((one for one in judgement.findings if one.verdict is Verdict.FAIL), None)
    if wrong is not None:
        yield f"{wrong.function}: {wrong.sentence}"


def _evidence(folder: Path, bench: Path, log: Path, now: datetime) -> Iterator[Station]:
    from interlock.evidence import Role, make_demo_signer, sign_report, verify_report, write_report
    from interlock.evidence.gather import gather

    report, signed = folder / "report.pdf", folder / "report_signed.pdf"
    write_report(report, gather(bench, [log], demo=True, today=now.date()), made_at=now)
    tester = make_demo_signer("Tester of the demo", now=now)
    officer = make_demo_signer("Safety officer of the demo", now=now)
    sign_report(report, signed, tester, reason="proof test performed", role=Role.TESTER, now=now)
    sign_report(signed, signed, officer, reason="evidence accepted", role=Role.SAFETY_OFFICER, now=now)
    held = verify_report(signed, now=now)
    title = "Write the report, sign it twice with demo keys, verify it"
    yield Station(title, held.verdict, Verdict.PASS, held.reasons, (report, signed))
    spoilt = folder / "report_tampered.pdf"
    data = bytearray(signed.read_bytes())
    data[len(data) // 3] ^= 1
    spoilt.write_bytes(bytes(data))
    refused = verify_report(spoilt, now=now)
    yield Station(
        "The same report with one bit changed", refused.verdict, Verdict.FAIL, refused.reasons, (spoilt,)
    )
