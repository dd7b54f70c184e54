"""What a report is made of, gathered by doing the work: the chain checked, the logs judged, the inputs hashed."""

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.bench import Bench, bench_fingerprint, dbc_path, load_bench
from interlock.chain import check
from interlock.evidence.material import ReportMaterial
from interlock.replay import document, replay

__all__ = ["gather"]


def gather(
    bench_file: Path, logs: Sequence[Path], *, demo: bool = False, remarks: str = ""
) -> ReportMaterial:
    """Check the bench, judge the logs of one run, and hold both results with the digests of all inputs."""
    bench = load_bench(bench_file)
    fingerprint = bench_fingerprint(bench_file, bench)
    checked = check(bench).as_json()
    checked["bench"]["fingerprint"] = fingerprint
    return ReportMaterial(
        bench=_identity(bench, fingerprint),
        check=checked,
        replay=document(replay(bench_file, bench, logs), fingerprint),
        inputs=list(_inputs(bench_file, bench, logs)),
        software=__version__,
        demo=demo,
        remarks=remarks,
    )


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
