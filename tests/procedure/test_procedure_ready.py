"""The ready procedures for the built-in bench: they load, fit the bench, warn, and can be walked as written."""

from pathlib import Path

import jsonschema
import pytest
import yaml
from plan_benches import DEMO, ROOT, Person, bench_of, plan_of

from interlock.procedure import load_procedure, procedure_schema
from interlock.procedure.goals import goals_of
from interlock.procedure.write import AFTER

FOLDER = ROOT / "procedures"
NAMES = [
    "after_rewiring",
    "before_each_use",
    "emergency_stop_test",
    "first_use",
    "periodic_proof_test",
    "return_from_repair",
]


def test_these_are_all() -> None:
    assert sorted(path.name for path in FOLDER.iterdir()) == [f"{name}.yaml" for name in NAMES]


@pytest.mark.parametrize("name", NAMES)
def test_it_loads_for_the_built_in_bench(name: str) -> None:
    found = load_procedure(FOLDER / f"{name}.yaml", bench_of(DEMO))
    assert found.procedure.purpose == name
    jsonschema.validate(yaml.safe_load((FOLDER / f"{name}.yaml").read_text("utf-8")), procedure_schema())


@pytest.mark.parametrize("name", NAMES)
def test_it_warns_and_defers(name: str) -> None:
    said = " ".join(load_procedure(FOLDER / f"{name}.yaml").cautions)
    for word in ("Rotating parts", "discharge", "measure", "Local codes", "competent person"):
        assert word in said


@pytest.mark.parametrize("name", NAMES)
def test_its_acts_are_possible_in_the_order_written(name: str) -> None:
    """From the powered-off bench, by the plain interpreter; checks with eyes or instrument change nothing."""
    bench = bench_of(DEMO)
    person = Person(bench, None)
    for step in load_procedure(FOLDER / f"{name}.yaml", bench).steps:
        if step.device is not None:
            assert person.act(step.device, step.does), step.act


def test_the_periodic_test_covers_everything_that_the_bench_requires() -> None:
    found = load_procedure(FOLDER / "periodic_proof_test.yaml", bench_of(DEMO))
    assert {goal for step in found.steps for goal in step.covers} == {
        goal.id for goal in goals_of(bench_of(DEMO))
    }
    assert found.cost is not None
    assert found.cost.cost == plan_of(DEMO).cost


def test_the_periodic_test_names_every_fault_of_the_bench() -> None:
    """Derive it anew with `interlock plan --out` when the built-in bench or the kinds change."""
    found, plan = load_procedure(FOLDER / "periodic_proof_test.yaml"), plan_of(DEMO)
    shown = {fault for step in found.steps for fault in step.reveals}
    assert shown == {fault for step in plan.steps for fault in step.reveals}
    assert [one.fault for one in found.unrevealed] == [one.fault for one in plan.unrevealed]
    assert found.after == [*AFTER, *plan.by_hand]


@pytest.mark.parametrize("name", ["first_use", "after_rewiring", "return_from_repair", "periodic_proof_test"])
def test_the_hood_that_unlocks_by_time_is_timed(name: str) -> None:
    (said,) = (one for one in load_procedure(FOLDER / f"{name}.yaml").after if "unlock_timed" in one)
    assert "may be below 6 s" in said


@pytest.mark.parametrize(
    "words", ["turns freely", "it is empty", "polarity", "hood is closed", "flows", "torque stop button"]
)
def test_the_daily_check_holds_what_a_daily_check_must(words: str) -> None:
    """Shafts free, chamber empty, polarity, cover closed, cooling, one torque-off stop: common practice, no source."""
    text = Path(FOLDER / "before_each_use.yaml").read_text("utf-8")
    assert words in text


def test_the_emergency_stop_test_makes_no_torque() -> None:
    steps = load_procedure(FOLDER / "emergency_stop_test.yaml").steps
    assert not [step for step in steps if step.device in ("prime", "brake")]
    assert sum(step.device == "emergency" and step.does == ["press"] for step in steps) == 1
