"""What a report is made of, gathered by doing the work: the chain checked, the logs judged, the inputs hashed."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.bench import Bench, bench_fingerprint, dbc_path, load_bench
from interlock.chain import check
from interlock.evidence.material import ReportMaterial
from interlock.evidence.rated import rated, rating_document
from interlock.rating.result import RatingResult
from interlock.replay import Judgement, document, replay

__all__ = ["gather", "gather_rating"]


def gather(
    bench_file: Path,
    logs: Sequence[Path],
    *,
    demo: bool = False,
    remarks: str = "",
    today: date | None = None,
) -> ReportMaterial:
    """Check the bench, judge the logs of one run, rate it if its file asks for that; hold all results and digests.

    `today`: the day on which wear is judged; without it no replacement date passes.
    """
    bench = load_bench(bench_file)
    fingerprint = bench_fingerprint(bench_file, bench)
    checked = check(bench).as_json()
    checked["bench"]["fingerprint"] = fingerprint
    judgement = replay(bench_file, bench, logs)
    return ReportMaterial(
        bench=_identity(bench, fingerprint),
        check=checked,
        replay=document(judgement, fingerprint),
        inputs=list(_inputs(bench_file, bench, logs)),
        software=__version__,
        demo=demo,
        remarks=remarks,
        rating=None if bench.rating is None else _rated(bench_file, bench, judgement, today),
    )


def gather_rating(
    bench_file: Path, logs: Sequence[Path], *, demo: bool = False, today: date | None = None
) -> tuple[RatingResult, ReportMaterial]:
    """Rate the bench and nothing else; the logs, if any, serve for the measured stop."""
    bench = load_bench(bench_file)
    fingerprint = bench_fingerprint(bench_file, bench)
    judgement = replay(bench_file, bench, logs) if logs else None
    result, stops = rated(bench_file, bench, judgement, today=today)
    return result, ReportMaterial(
        bench=_identity(bench, fingerprint),
        check=None,
        replay=None,
        inputs=list(_inputs(bench_file, bench, logs)),
        software=__version__,
        demo=demo,
        rating=rating_document(bench, fingerprint, result, stops),
    )


def _rated(bench_file: Path, bench: Bench, judgement: Judgement, today: date | None) -> Mapping[str, Any]:
    result, stops = rated(bench_file, bench, judgement, today=today)
    return rating_document(bench, bench_fingerprint(bench_file, bench), result, stops)


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
    }


def _inputs(bench_file: Path, bench: Bench, logs: Sequence[Path]) -> Iterator[dict[str, str]]:
    files = [(bench_file, "bench description"), (dbc_path(bench_file, bench), "messages of the log (DBC)")]
    for path, role in [*files, *((log, "log") for log in logs)]:
        yield {"path": str(path), "sha256": hashlib.sha256(path.read_bytes()).hexdigest(), "role": role}
