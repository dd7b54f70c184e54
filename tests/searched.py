"""One search under faults for all tests that ask the same of the same bench: `rate` and `report` begin with it."""

from collections.abc import Iterator

import pytest

from interlock.bench import Bench
from interlock.chain import CheckResult, FaultReport
from interlock.evidence import gather, structure


@pytest.fixture(scope="session", autouse=True)
def searched_once() -> Iterator[None]:
    """Both results are frozen and depend on the bench alone, its section `rating` left aside."""
    search, prove = structure.judge_faults, gather.check
    reports: dict[tuple[str, int], FaultReport] = {}
    proofs: dict[tuple[str, int | None], CheckResult] = {}

    def judge_faults(bench: Bench, most: int) -> FaultReport:
        key = (bench.model_dump_json(exclude={"rating"}), most)
        if key not in reports:
            reports[key] = search(bench, most)
        return reports[key]

    def check(bench: Bench, *, faults: int | None = None) -> CheckResult:
        key = (bench.model_dump_json(exclude={"rating"}), faults)
        if key not in proofs:
            proofs[key] = prove(bench, faults=faults)
        return proofs[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(structure, "judge_faults", judge_faults)
        patch.setattr(gather, "check", check)
        yield
