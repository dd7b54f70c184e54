"""The text view of a plan: every step, the cost beside its bound, what stays dark, what was excluded."""

import io
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from interlock.cli.plan_page import show
from interlock.procedure import Dark, Plan, PlanStep

STEP = PlanStep(
    1, "Press the button", "button", ("press",), ("nothing", "at all"), 2, 5, ("stop:x",), ("k1.welds",)
)
PLAN = Plan("b", "Bench", 12, 10, {"act": 1}, "invented", (STEP,), (), (), ())
DARK = Dark("k1.short", "K1: a short", "hidden", "Measure K1.")


def shown(plan: Plan, written: tuple[Path, ...] = ()) -> str:
    out = io.StringIO()
    show(Console(file=out, width=140), plan, "f" * 64, written)
    return out.getvalue()


def test_a_step_with_what_to_see_and_how_long() -> None:
    text = shown(PLAN)
    assert "Press the button" in text
    assert "nothing; at all" in text
    assert "2 s" in text


@pytest.mark.parametrize(
    ("cost", "words"),
    [(12, "at most 2 above the cheapest"), (10, "no complete sequence of these acts is cheaper")],
)
def test_cost_beside_its_bound(cost: int, words: str) -> None:
    text = shown(replace(PLAN, cost=cost))
    assert f"cost {cost}; proved lower bound 10" in text
    assert words in text


def test_faults_of_one_inspection_stand_together() -> None:
    other = replace(DARK, fault="k1.other", words="K1: another")
    text = shown(replace(PLAN, unrevealed=(DARK, other)))
    assert text.count("Measure K1.") == 1
    assert text.index("k1.short") < text.index("k1.other")
    assert "1 faults would show" in text
    assert "2 would not" in text


def test_what_cannot_be_reached_sends_to_check() -> None:
    text = shown(replace(PLAN, not_exercised=("reset:x",)))
    assert "interlock check" in text
    assert "reset:x" in text


def test_exclusions_are_printed_with_reason_and_source() -> None:
    out = {"fault": "k1.welds", "words": "K1 welds", "reason": "oversized", "source": "maker"}
    assert "Excluded by the engineer: k1.welds: oversized [maker]" in shown(replace(PLAN, exclusions=(out,)))


def test_brackets_in_texts_are_no_markup() -> None:
    step = replace(STEP, act="Press [bold]this[/bold]", observe=("see [red]that",))
    text = shown(
        replace(PLAN, bench_name="B [x]", steps=(step,), unrevealed=(replace(DARK, inspect="Look [here]"),))
    )
    assert "[bold]this[/bold]" in text
    assert "[red]that" in text
    assert "B [x]" in text
    assert "Look [here]" in text


def test_files_written_are_named() -> None:
    assert "Written: some/p.yaml" in shown(PLAN, (Path("some/p.yaml"),))
