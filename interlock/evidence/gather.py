"""What a report is made of, gathered by doing the work: the chain checked, the logs judged, the inputs hashed."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.bench import Bench, bench_fingerprint, message_files
from interlock.chain import check, load_without_loops
from interlock.errors import InterlockError
from interlock.evidence.atomic import sha256_of
from interlock.evidence.counted import RegisterInput, read_uses
from interlock.evidence.material import ReportMaterial
from interlock.evidence.rated import rated, rating_document
from interlock.rating.masking import masking_of
from interlock.rating.result import RatingResult
from interlock.replay import Judgement, document, replay
from interlock.replay.assigned import log_paths
from interlock.replay.counts import counts_of

__all__ = ["gather", "gather_rating"]


def gather(
    bench_file: Path,
    logs: Sequence[Path],
    *,
    demo: bool = False,
    remarks: str = "",
    today: date | None = None,
    register: Path | None = None,
    faults: int | None = None,
) -> ReportMaterial:
    """Check the bench, judge the logs of one run, rate it if its file asks for that; hold all results and digests.

    `today`: the day on which wear is judged; without it no replacement date passes. `register`: the store of past
    tests whose counts the rating uses. `faults`: how many at a time the check judges; None: as many as the bench
    file requires to be withstood.
    """
    bench = load_without_loops(bench_file)
    if register is not None and bench.rating is None:
        raise InterlockError(
            f"{bench_file}: it has no section 'rating' that would use the counts of {register}; leave the register out"
        )
    past = None if register is None else read_uses(register, bench.bench.id)
    fingerprint = bench_fingerprint(bench_file, bench)
    proved = check(bench, faults=faults)
    checked = proved.as_json(fingerprint)
    if proved.report is not None:
        checked["masking"] = [one.as_json() for one in masking_of(bench)]
    judgement = replay(bench_file, bench, logs)
    return ReportMaterial(
        bench=_identity(bench, fingerprint),
        check=checked,
        replay=document(judgement, fingerprint),
        inputs=list(_inputs(bench_file, bench, logs, past)),
        software=__version__,
        demo=demo,
        remarks=remarks,
        rating=None if bench.rating is None else _rated(bench_file, bench, judgement, today, past)[1],
    )


def gather_rating(
    bench_file: Path,
    logs: Sequence[Path],
    *,
    demo: bool = False,
    today: date | None = None,
    register: Path | None = None,
) -> tuple[RatingResult, ReportMaterial]:
    """Rate the bench and nothing else; the logs, if any, serve for what was measured, the register for its counts."""
    bench = load_without_loops(bench_file)
    fingerprint = bench_fingerprint(bench_file, bench)
    past = None if register is None else read_uses(register, bench.bench.id)
    judgement = replay(bench_file, bench, logs) if logs else None
    result, rating = _rated(bench_file, bench, judgement, today, past)
    return result, ReportMaterial(
        bench=_identity(bench, fingerprint),
        check=None,
        replay=None,
        inputs=list(_inputs(bench_file, bench, logs, past)),
        software=__version__,
        demo=demo,
        rating=rating,
    )


def _rated(
    bench_file: Path,
    bench: Bench,
    judgement: Judgement | None,
    today: date | None,
    past: RegisterInput | None,
) -> tuple[RatingResult, Mapping[str, Any]]:
    counts = None if past is None else past.uses
    result, stops = rated(bench_file, bench, judgement, today=today, counts=counts)
    log = None if judgement is None else counts_of(judgement)
    fingerprint = bench_fingerprint(bench_file, bench)
    return result, rating_document(bench, fingerprint, result, stops, register=past, log=log)


def _identity(bench: Bench, fingerprint: str) -> dict[str, Any]:
    identity = bench.bench
    stated = {"bus": identity.ratings.bus_voltage, "speed up to": identity.ratings.max_speed}
    if identity.ratings.inertia is not None:
        stated["inertia"] = identity.ratings.inertia
    return {
        "id": identity.id,
        "name": identity.name,
        "place": identity.place,
        "fingerprint": fingerprint,
        "ratings": [f"{name} {value}" for name, value in stated.items()],
        "functions": "; ".join(f"{name}: {one.title}" for name, one in bench.required.functions.items()),
    }


def _inputs(
    bench_file: Path, bench: Bench, logs: Sequence[Path], past: RegisterInput | None
) -> Iterator[dict[str, str]]:
    files = [(bench_file, "bench description"), *message_files(bench_file, bench)]
    for path, role in [*files, *((log, "log") for log in log_paths(bench.shows, logs))]:
        yield {"path": str(path), "sha256": sha256_of(path), "role": role}
    if past is not None:
        yield past.as_input()
