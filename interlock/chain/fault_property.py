"""The one fault requirement that decides a verdict: a function said to tolerate any single fault must do so."""

from collections.abc import Iterator

from interlock.bench import Bench
from interlock.chain.fault_result import FaultReport, FaultResult
from interlock.chain.result import PropertyResult
from interlock.verdict import Verdict

__all__ = ["fault_properties"]

_SOURCE = "ISO 13849-1:2015, 6.2.6 (category 3: a single fault does not lose the safety function)"


def fault_properties(bench: Bench, report: FaultReport | None) -> Iterator[PropertyResult]:
    """One property for each function with `single_fault_tolerant: true`; not observed without a report."""
    for name, function in bench.required.functions.items():
        if not function.single_fault_tolerant:
            continue
        bad = [] if report is None else _losing(report, name)
        verdict, sentence = _judged(report, bad)
        yield PropertyResult(
            id="single_fault_tolerant",
            function=name,
            subject=None,
            title=f"{function.title}: whatever single fault there is",
            verdict=verdict,
            requirement=f"{function.title}: no single fault that is not excluded loses it",
            source=f"{_SOURCE}; {function.source}",
            sentence=sentence,
            acts=bad[0].acts if bad else (),
            premise=(),
        )


def _losing(report: FaultReport, function: str) -> list[FaultResult]:
    """The single faults that lose the function, the one with the shortest acts first."""
    single = (one for one in report.faults if len(one.set) == 1 and function in one.lost)
    return sorted(single, key=lambda one: len(one.acts))


def _judged(report: FaultReport | None, bad: list[FaultResult]) -> tuple[Verdict, str]:
    if report is None:
        return Verdict.NOT_OBSERVED, "Never put to the test: no faults were judged; ask for one at least."
    if bad:
        more = f" and {len(bad) - 1} more" if len(bad) > 1 else ""
        return Verdict.FAIL, f"A single fault loses it: {bad[0].words[0]}{more}."
    single = [one for one in report.faults if len(one.set) == 1]
    if not report.search.whole or not all(one.verified for one in single):
        return Verdict.INCONCLUSIVE, "Not verified: not every single fault could be judged to the end."
    return Verdict.PASS, f"None of {len(single)} single faults loses it."
