"""Guards that unlock some time after the stop are timed by hand: what the plan says of them."""

import shutil
from pathlib import Path
from typing import Any

import pytest
from plan_benches import DEMO, ROOT, SAMPLE, bench_of, plan_of

from interlock.bench import Bench, load_bench
from interlock.errors import BenchError, RatingError
from interlock.procedure import derive, procedure_of
from interlock.procedure.guards import guards_to_time

DISTANCE = {"distance_mm": 900, "approach_speed_mm_s": 1600, "intrusion_mm": 0}


def rated(**guards: Any) -> Bench:
    """The built-in bench with these guards in its section `rating`, by function."""
    bench = bench_of(DEMO)
    assert bench.rating is not None
    functions = {
        name: {key: value for key, value in one.items() if key != "guard"}
        for name, one in bench.rating["functions"].items()
    }
    for name, guard in guards.items():
        functions[name] = {**functions[name], "guard": {**DISTANCE, **guard}}
    return bench.model_copy(update={"rating": {**bench.rating, "functions": functions}})


def test_a_delay_is_to_be_timed_and_no_time_may_be_shorter() -> None:
    (said,) = guards_to_time(rated(hood_stop={"unlock": "delay", "unlock_delay_s": 7.5}))
    assert "how long the guard hood keeps a person out, three times or more" in said
    assert "no time may be below 7.5 s" in said
    assert "rating, functions, hood_stop, guard, unlock_timed" in said


@pytest.mark.parametrize("guard", [{}, {"unlock": "none"}, {"unlock": "standstill"}])
def test_no_other_guard_is(guard: dict[str, Any]) -> None:
    assert guards_to_time(rated(hood_stop=guard)) == ()


def test_each_guard_has_a_line_of_its_own() -> None:
    delay = {"unlock": "delay", "unlock_delay_s": 7.5}
    said = guards_to_time(rated(hood_stop=delay, button_stop={**delay, "unlock_delay_s": 8.0}))
    assert ["guard hood" in one for one in said] == [True, False]
    assert "below 8 s" in said[1]


def test_a_bench_that_is_not_rated_has_none() -> None:
    assert guards_to_time(bench_of(DEMO).model_copy(update={"rating": None})) == ()


def test_a_section_that_is_wrong_is_an_error_and_no_empty_list() -> None:
    with pytest.raises(RatingError, match=r"hood_stop\.guard: unlock_delay_s goes with unlock: delay"):
        guards_to_time(rated(hood_stop={"unlock": "delay"}))


def test_with_the_file_at_hand_the_error_has_its_place(tmp_path: Path) -> None:
    file = tmp_path / "bench.yaml"
    file.write_text(
        (ROOT / DEMO).read_text(encoding="utf-8").replace("unlock_delay_s: 6\n", "unlock_delay_s: 0\n")
    )
    shutil.copy((ROOT / DEMO).with_name("bench.dbc"), tmp_path)
    with pytest.raises(
        BenchError, match=r"bench\.yaml:\d+:\d+: 'unlock_delay_s': it is 0: give a number above 0"
    ):
        derive(load_bench(file), file=file)


@pytest.mark.parametrize(("name", "count"), [(DEMO, 1), (SAMPLE, 0)])
def test_plan_procedure_and_json_hand_it_on(name: str, count: int) -> None:
    plan = plan_of(name)
    assert len(plan.by_hand) == count
    assert plan.as_json()["by_hand"] == list(plan.by_hand)
    after = procedure_of(plan, None).after
    assert tuple(after[len(after) - count :]) == plan.by_hand
