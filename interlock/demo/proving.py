"""The stations before anything is switched on: the chain proved, sound and with faults, and the proof test derived."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from interlock.bench import bench_fingerprint, load_bench
from interlock.chain import CheckResult, FaultReport, check
from interlock.demo.station import Station
from interlock.errors import InterlockError
from interlock.verdict import Verdict

__all__ = ["WRONG_BENCH", "prove", "try_faults", "work_out_test", "wrong_bench"]

WRONG_BENCH: Final = "wrong_bench.yaml"
"""A file that only the demo makes: where it stands, an earlier walk may be overwritten."""

_RIGHT: Final = "contactor.coil: emergency.c and (supply_on.pressed or contactor.aux)"
_WRONG: Final = "contactor.coil: supply_on.pressed or contactor.aux"


def prove(bench: Path, title: str, expected: Verdict) -> Station:
    """Prove the chain of a bench, and say what was found."""
    result = check(load_bench(bench), file=bench)
    return Station(title, result.verdict, expected, tuple(_proved(result)), (bench,))


def wrong_bench(bench: Path) -> Path:
    """The same bench with one line of its wiring wrong; InterlockError if that line is not there."""
    text = bench.read_text(encoding="utf-8")
    if _RIGHT not in text:
        raise InterlockError(
            f"{bench}: the line to be spoilt for the demo is not there; restore the built-in bench"
        )
    wrong = bench.with_name(WRONG_BENCH)
    wrong.write_text(text.replace(_RIGHT, _WRONG), encoding="utf-8")
    return wrong


def try_faults(bench: Path) -> Station:
    """What one fault does to the bench, and two at a time."""
    result = check(load_bench(bench), file=bench, faults=2)
    says = () if result.report is None else tuple(_with_faults(result.report))
    return Station("See what one fault or two do to it", result.verdict, Verdict.PASS, says, (bench,))


def work_out_test(bench: Path, folder: Path) -> Station:
    """The proof test of the bench: a procedure file, and a sheet to fill in at the bench."""
    from interlock.evidence.sheet import sheet_pdf
    from interlock.procedure import as_yaml, derive, procedure_of

    described = load_bench(bench)
    plan = derive(described, file=bench)
    procedure = procedure_of(plan, bench_fingerprint(bench, described))
    written, sheet = folder / "proof_test.yaml", folder / "proof_test.pdf"
    written.write_text(as_yaml(procedure), encoding="utf-8")
    sheet.write_bytes(sheet_pdf(procedure))
    complete = Verdict.NOT_OBSERVED if plan.not_exercised else Verdict.PASS
    says = (
        f"{len(plan.steps)} steps of cost {plan.cost}; no complete test costs less than {plan.lower_bound}",
        f"{sum(len(one.reveals) for one in plan.steps)} faults would show in it; for {len(plan.unrevealed)} others "
        "it says what to inspect instead",
    )
    return Station(
        "Derive the proof test that puts all of it to the test",
        complete,
        Verdict.PASS,
        says,
        (written, sheet),
    )


def _proved(result: CheckResult) -> Iterator[str]:
    yield f"{result.states} states and {result.transitions} steps explored, {len(result.properties)} properties judged"
    wrong = next((one for one in result.properties if one.verdict is Verdict.FAIL), None)
    if wrong is not None:
        yield wrong.sentence
        yield from (f"  {number}. {act.words}" for number, act in enumerate(wrong.acts, 1))


def _with_faults(report: FaultReport) -> Iterator[str]:
    yield report.search.sentence
    single = [one for one in report.faults if len(one.set) == 1]
    losing = [one for one in single if one.lost]
    silent = [one for one in single if not one.detected]
    yield (
        f"of {len(single)} single faults {len(losing)} lose a function in part, {len(silent)} are not noticed in use"
    )
    pairs = [one for one in report.faults if len(one.set) > 1 and one.minimal and one.lost]
    yield f"{len(pairs)} pairs of faults lose what none of the two loses alone"
    for one in report.categories:
        if one.effect is None:
            best = one.categories[-1] if one.categories else "none"
            yield f"  {one.function}: the structure carries at most category {best}"
