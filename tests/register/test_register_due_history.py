"""Due dates of random histories against the rule written as a story: go through the days, remember what still holds."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from register_lines import at, changed, proof, replaced

from interlock.bench import bench_fingerprint, load_bench
from interlock.rating.section import rating_of
from interlock.register import BenchName, append, create, load_register
from interlock.register.due import due_of
from interlock.register.entries import FunctionTest, Withdrawn
from interlock.verdict import Verdict

FILE = Path(__file__).parents[2] / "interlock" / "demo" / "bench.yaml"
BENCH = load_bench(FILE)
FINGERPRINT, RATING = bench_fingerprint(FILE, BENCH), rating_of(FILE)
HOOD = "hood_stop"
START = date(2025, 1, 1)

tests = st.tuples(
    st.just("test"),
    st.integers(0, 900),
    st.sampled_from(["pass", "pass", "fail", "inconclusive", "not_observed"]),
    st.sampled_from(["pass", "pass", "pass", "inconclusive"]),
    st.booleans(),  # of this description
)
others = st.tuples(st.sampled_from(["change", "replace", "withdraw"]), st.integers(0, 900))
histories = st.lists(st.one_of(tests, others), max_size=8)


def on(number: int) -> date:
    return START + timedelta(days=number)


def content(number: int, act: tuple) -> Any:
    match act:
        case ("test", day, verdict, rest, _):
            functions = {
                name: FunctionTest(verdict=Verdict(verdict), timings=()) for name in BENCH.required.functions
            }
            return proof(on(day).isoformat(), f"{number}.log", functions=functions, rest=Verdict(rest))
        case ("change", day):
            return changed(on(day).isoformat())
        case ("replace", day):
            return replaced(on(day).isoformat(), device=f"k{number}")
    raise AssertionError(act)


def told(history: list, today: date) -> tuple[str, date | None]:
    """As a person would say it who reads the lines in order of their days, then of their numbers."""
    lines = [(on(act[1]), number, act) for number, act in enumerate(history, 1) if act[0] != "withdraw"]
    gone = {act[2] for act in history if act[0] == "withdraw"}
    lines = sorted(one for one in lines if one[1] not in gone)

    def proves(act: tuple, own: bool) -> bool:
        return act[0] == "test" and act[2] == act[3] == "pass" and (act[4] or not own)

    own = any(proves(act, True) for _, _, act in lines)
    last, undone = None, False
    for day, _, act in lines:
        if proves(act, own):
            last, undone = day, False
        elif act[0] in ("change", "replace") or (act[0] == "test" and act[2] == "fail"):
            undone = True
    if last is None or undone:
        return "fail", None
    if today < last:
        return "inconclusive", None
    due = date(last.year + 1, last.month, 28 if (last.month, last.day) == (2, 29) else last.day)
    return "fail" if today >= due else "pass" if own else "inconclusive", due


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("due")


@settings(max_examples=25)
@given(histories, st.integers(0, 1500))
def test_due_is_what_the_story_says(folder, drawn, today):
    path = folder / "r.jsonl"
    path.unlink(missing_ok=True)
    create(path, now=at("2025-01-01"))
    history: list[tuple] = []
    for act in drawn:
        number = len(history) + 1
        name = BenchName(
            id=BENCH.bench.id,
            name=BENCH.bench.name,
            fingerprint=FINGERPRINT if act[0] != "test" or act[4] else "c" * 64,
        )
        if act[0] == "withdraw":
            free = [
                place
                for place, one in enumerate(history, 1)
                if one[0] != "withdraw" and place not in {two[2] for two in history if two[0] == "withdraw"}
            ]
            if not free:
                continue
            target = free[act[1] % len(free)]
            append(path, name, Withdrawn(withdraws=target, reason="misread"), now=at("2030-01-01"))
            history.append(("withdraw", 0, target))
            continue
        append(path, name, content(number, act), now=at("2030-01-01"))
        history.append(act)
    found = {one.subject: one for one in due_of(load_register(path), BENCH, FINGERPRINT, RATING, on(today))}
    assert (str(found[HOOD].verdict), found[HOOD].due) == told(history, on(today))
