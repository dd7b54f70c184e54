"""The stations after the test: the report, signed and verified, and the register that says when the next one is due."""

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from interlock.bench import bench_fingerprint, load_bench
from interlock.demo.station import Station
from interlock.errors import RegisterError
from interlock.verdict import Verdict, worst

if TYPE_CHECKING:
    from interlock.register.due import Due

__all__ = ["hand_over", "keep"]


def hand_over(folder: Path, bench: Path, log: Path, now: datetime) -> Iterator[Station]:
    """Write the report and sign it; the same report with one bit changed must be refused."""
    from interlock.evidence.document import write_report
    from interlock.evidence.gather import gather
    from interlock.evidence.keys import make_demo_signer
    from interlock.evidence.sign import Role, sign_report
    from interlock.evidence.verify import verify_report

    report, signed = folder / "report.pdf", folder / "report_signed.pdf"
    write_report(report, gather(bench, [log], demo=True, today=now.date()), made_at=now)
    signed.unlink(missing_ok=True)  # of an earlier walk
    tester = make_demo_signer("Tester of the demo", now=now)
    officer = make_demo_signer("Safety officer of the demo", now=now)
    sign_report(report, signed, tester, reason="proof test performed", role=Role.TESTER, now=now)
    sign_report(signed, signed, officer, reason="evidence accepted", role=Role.SAFETY_OFFICER, now=now)
    held = verify_report(signed, now=now)
    title = "Write the report, sign it twice with demo keys, verify it"
    yield Station(title, held.verdict, Verdict.PASS, held.reasons, (report, signed))
    spoilt = _one_bit_changed(signed, folder / "report_tampered.pdf")
    refused = verify_report(spoilt, now=now)
    yield Station(
        "The same report with one bit changed", refused.verdict, Verdict.FAIL, refused.reasons, (spoilt,)
    )


def keep(folder: Path, bench: Path, log: Path, now: datetime) -> Iterator[Station]:
    """Enter the test in a new register and ask what is due; a register with one bit changed must be refused."""
    from interlock.rating.section import rating_of
    from interlock.register import append, create, load_register
    from interlock.register.due import due_of
    from interlock.register.judged import proof_test
    from interlock.replay import document, replay
    from interlock.replay.counts import counts_of

    described = load_bench(bench)
    fingerprint = bench_fingerprint(bench, described)
    judgement = replay(bench, described, [log])
    said = json.dumps(document(judgement, fingerprint), allow_nan=False)
    counts = counts_of(judgement).as_json()
    name, test = proof_test(str(log), said, described.required.functions, counts=counts)
    path = folder / "tests.jsonl"
    path.unlink(missing_ok=True)  # of an earlier walk
    create(path, now=now)
    book, _ = append(path, name, test, now=now)
    items = list(due_of(book, described, fingerprint, rating_of(bench), now.date()))
    title = "Enter the test in a register, and ask what is due when"
    yield Station(title, worst(one.verdict for one in items), Verdict.PASS, _due(items), (path,))
    spoilt = _one_bit_changed(path, folder / "tests_tampered.jsonl")
    try:
        load_register(spoilt)
        verdict, why = Verdict.PASS, "it was accepted"
    except RegisterError as error:
        verdict, why = Verdict.FAIL, str(error)
    yield Station("The same register with one bit changed", verdict, Verdict.FAIL, (why,), (spoilt,))


def _due(items: list["Due"]) -> tuple[str, ...]:
    return tuple(one.sentence for one in items)


def _one_bit_changed(path: Path, spoilt: Path) -> Path:
    data = bytearray(path.read_bytes())
    data[len(data) // 3] ^= 1
    spoilt.write_bytes(bytes(data))
    return spoilt
