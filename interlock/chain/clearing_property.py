"""The rule that a fault's going away starts nothing, judged for each unit."""

from collections.abc import Iterator
from typing import Final

from interlock.bench import Bench
from interlock.chain.clearing_result import Cleared, Clearing
from interlock.chain.result import PropertyResult
from interlock.verdict import Verdict

__all__ = ["clearing_properties"]

_SOURCE: Final = (
    "ISO 13849-1:2015, 5.2.2 and 5.2.3; ISO 14118:2017 (unexpected start-up; clauses from memory)"
)


def clearing_properties(bench: Bench, clearing: Clearing) -> Iterator[PropertyResult]:
    """For each unit: no fault that goes away by itself starts it."""
    for unit in bench.required.effects.torque_off.of:
        called = bench.devices[unit].name
        bad = sorted((one for one in clearing.found if unit in one.restarts), key=lambda one: len(one.acts))
        verdict, sentence = _judged(clearing, bad)
        yield PropertyResult(
            id="clearing_never_starts",
            function=None,
            subject=unit,
            title=f"{called}: no fault that goes away by itself starts it",
            verdict=verdict,
            requirement=f"When a fault goes away by itself, the {called} begins to make torque only by a person's "
            "new start, after a reset where one is needed",
            source=_SOURCE,
            sentence=sentence,
            acts=bad[0].acts if bad else (),
            premise=(),
            story=bad[0].story if bad else None,
        )


def _judged(clearing: Clearing, bad: list[Cleared]) -> tuple[Verdict, str]:
    if bad:
        more = f" and {len(bad) - 1} more" if len(bad) > 1 else ""
        return Verdict.FAIL, f"It starts unasked when this goes away by itself: {bad[0].words}{more}."
    if not clearing.whole:
        return Verdict.INCONCLUSIVE, clearing.sentence
    return Verdict.PASS, f"None starts it. {clearing.sentence}"
