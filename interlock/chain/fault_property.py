"""The fault requirements that decide a verdict: what a bench file says to withstand faults must do so."""

from collections.abc import Iterator, Sequence
from typing import Final

from interlock.bench import Bench, Function, kinds_of
from interlock.chain.fault_result import Example, FaultReport, FaultResult
from interlock.chain.losses import Rule
from interlock.chain.result import PropertyResult
from interlock.verdict import Verdict

__all__ = ["fault_properties", "faults_asked"]

_SINGLE: Final = "ISO 13849-1:2015, 6.2.6 (category 3: a single fault does not lose the safety function)"
_ADDED: Final = (
    "ISO 13849-1:2015, 6.2.7 (category 4: undetected faults that add up do not lose the safety function)"
)
_START: Final = "ISO 14118:2017, 4 and ISO 12100:2010, 6.2.11.4 (unexpected start-up; clauses from memory)"
_CATEGORY_1: Final = "IEC 60204-1:2016, 9.2.2 (stop category 1); ISO 13849-1:2015, 6.2.6"
_NOT_ASKED: Final = "Never put to the test: no faults were judged; ask for one at least."
_KEPT: Final = {
    "power_removed": ("leaves its power on", "a torque-off input or the supply of the {} is off in time"),
    "braking": ("lets it coast", "the {} is braked before its torque goes"),
    "ramp_completed": ("cuts its ramp short", "by the stated times the {} brakes to the end of its ramp"),
}


def faults_asked(bench: Bench) -> int:
    """How many faults at a time a check must judge, so that nothing which the bench file requires stays open."""
    functions = bench.required.functions.values()
    if any(function.accumulation_tolerant for function in functions):
        return 2
    single = any(one.single_fault_tolerant or one.single_fault_keeps for one in functions)
    modes = bench.required.modes
    single |= bench.required.restart.single_fault_tolerant
    return 1 if single or (modes is not None and modes.single_fault_tolerant) else 0


def fault_properties(bench: Bench, report: FaultReport | None) -> Iterator[PropertyResult]:
    """One property for each function and unit that must withstand faults; not observed without a report."""
    for name, function in bench.required.functions.items():
        if function.single_fault_tolerant:
            yield _single(name, function, report)
    for name, function in bench.required.functions.items():
        if function.accumulation_tolerant:
            yield _accumulation(name, function, report)
    if bench.required.restart.single_fault_tolerant:
        yield from _starts(bench, report)
    for rule in _rules(bench):
        yield _rule(bench, rule, report)


def _rules(bench: Bench) -> Iterator[Rule]:
    """The rules beside the functions' effects that no single fault may break, by the bench file."""
    for name, function in bench.required.functions.items():
        for part in function.single_fault_keeps:
            rules = ("braking", "ramp_completed") if part == "braking" else (part,)
            units = [one for one in bench.required.units_of(name) if _has(bench, one, part)]
            yield from (Rule(rule, name, unit) for rule in rules for unit in units)
    modes = bench.required.modes
    if modes is not None and modes.single_fault_tolerant:
        for mode in modes.each:
            yield from (Rule("idle_in_mode", mode, unit) for unit in bench.required.idle_in(mode))


def _has(bench: Bench, unit: str, part: str) -> bool:
    kind = kinds_of(bench)[bench.devices[unit].kind]
    return kind.braking is not None and (part == "braking" or bool(kind.off_channels))


def _rule(bench: Bench, rule: Rule, report: FaultReport | None) -> PropertyResult:
    called, modes = bench.devices[rule.unit].name, bench.required.modes
    bad = _shortest(rule.key, (one for one in _of(report, 1) if rule in one.rules))
    if rule.mode is not None and modes is not None:
        title, source = modes.each[rule.mode].title, f"{_START}; {modes.source}"
        does, kept = "lets it run there", f"In mode '{title}' the {called} makes no torque"
    else:
        function = bench.required.functions[rule.of]
        title, source = function.title, f"{_CATEGORY_1}; {function.source}"
        does, promise = _KEPT[rule.id]
        kept = f"{title}: {promise.format(called)}"
    return _result(
        f"{rule.id}_under_fault",
        None if rule.mode is not None else rule.of,
        rule.unit,
        f"{kept}, whatever single fault there is",
        f"{kept}, even with any single fault that is not excluded",
        source,
        (*_judged(report, bad, does), bad),
        rule.key,
    )


def _single(name: str, function: Function, report: FaultReport | None) -> PropertyResult:
    bad = _shortest(name, (one for one in _of(report, 1) if name in one.lost))
    verdict, sentence = _judged(report, bad, "loses it")
    return _result(
        "single_fault_tolerant",
        name,
        None,
        f"{function.title}: whatever single fault there is",
        f"{function.title}: no single fault that is not excluded loses it",
        f"{_SINGLE}; {function.source}",
        (verdict, sentence, bad),
    )


def _accumulation(name: str, function: Function, report: FaultReport | None) -> PropertyResult:
    verdict, sentence, bad = _added(name, report)
    return _result(
        "accumulation_tolerant",
        name,
        None,
        f"{function.title}: even if faults add up unnoticed",
        f"{function.title}: neither a single fault nor faults that come one after the other, none of them found "
        "by the demands of this function, lose it",
        f"{_ADDED}; {function.source}",
        (verdict, sentence, bad),
    )


def _starts(bench: Bench, report: FaultReport | None) -> Iterator[PropertyResult]:
    for unit in bench.required.effects.torque_off.of:
        called = bench.devices[unit].name
        bad = _shortest(unit, (one for one in _of(report, 1) if unit in one.restarts))
        verdict, sentence = _judged(report, bad, "makes it start unasked")
        yield _result(
            "start_by_person_under_fault",
            None,
            unit,
            f"{called}: torque begins only by a person's start, whatever single fault there is",
            f"No single fault that is not excluded lets the {called} begin to make torque by a release, a reset, "
            "the return of the supply or by itself",
            f"{_START}; {bench.required.restart.source}",
            (verdict, sentence, bad),
        )


def _added(name: str, report: FaultReport | None) -> tuple[Verdict, str, list[FaultResult]]:
    if report is None:
        return Verdict.NOT_OBSERVED, _NOT_ASKED, []
    if bad := _shortest(name, (one for one in report.faults if name in one.unnoticed)):
        faults = " together with ".join(bad[0].words)
        what = "A single fault loses it" if len(bad[0].set) == 1 else "Faults that add up unnoticed lose it"
        return Verdict.FAIL, f"{what}: {faults}{_more(bad, 'set')}.", bad
    if report.search.most < 2:
        return Verdict.NOT_OBSERVED, "Never put to the test: that needs two faults at a time at least.", []
    [whole] = [one for one in report.categories if one.function == name and one.effect is None]
    if "4" not in whole.categories:
        return Verdict.INCONCLUSIVE, "Not verified: not every set of faults could be judged to the end.", []
    return Verdict.PASS, f"No single fault and no {report.search.most} that add up unnoticed lose it.", []


def _of(report: FaultReport | None, size: int) -> list[FaultResult]:
    return [] if report is None else [one for one in report.faults if len(one.set) == size]


def _shortest(of: str, found: Iterator[FaultResult]) -> list[FaultResult]:
    """The one that does harm to this function, or by this unit, in the fewest acts first."""
    return sorted(found, key=lambda one: _example(of, one).steps)


def _example(of: str, one: FaultResult) -> Example:
    return next(example for example in one.examples if example.of == of)


def _judged(report: FaultReport | None, bad: list[FaultResult], does: str) -> tuple[Verdict, str]:
    if report is None:
        return Verdict.NOT_OBSERVED, _NOT_ASKED
    if bad:
        return Verdict.FAIL, f"A single fault {does}: {bad[0].words[0]}{_more(bad, 'fault')}."
    single = _of(report, 1)
    if not report.search.proved or not all(one.verified for one in single):
        return Verdict.INCONCLUSIVE, "Not verified: not every single fault could be judged to the end."
    return Verdict.PASS, f"None of {len(single)} single faults {does}."


def _more(bad: Sequence[FaultResult], noun: str) -> str:
    """How many there are beside the one that is named."""
    others = len(bad) - 1
    return (
        ""
        if not others
        else f" (so does 1 other {noun})"
        if others == 1
        else f" (so do {others} other {noun}s)"
    )


def _result(
    id_: str,
    function: str | None,
    subject: str | None,
    title: str,
    requirement: str,
    source: str,
    judged: tuple[Verdict, str, list[FaultResult]],
    of: str | None = None,
) -> PropertyResult:
    verdict, sentence, bad = judged
    example = _example(of or str(subject or function), bad[0]) if bad else None
    acts, story = ((), None) if example is None else (example.acts, example.story)
    return PropertyResult(
        id_, function, subject, title, verdict, requirement, source, sentence, acts, (), story
    )
