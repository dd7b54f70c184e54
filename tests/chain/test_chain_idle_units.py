"""Units that do not work in a mode: they make no torque there, and nothing else is asked of them. Invented bench."""

import pytest
from chain_shapes import judged, not_passed, of, shape

from interlock.bench import Bench
from interlock.verdict import Verdict

NAME = "set_up_of_one_unit"
UNSAID = (", units: [drive]", "")
FREED = ("load.sto: k1.out_a and key.work_a", "load.sto: k1.out_a")


def test_the_load_rests_at_set_up_and_the_bench_passes() -> None:
    result = judged(NAME)
    assert not_passed(result) == {}
    assert of(result, "idle_in_mode", None, "load").verdict is Verdict.PASS
    assert [one.subject for one in result.properties if one.id == "idle_in_mode"] == ["load"]


def test_unsaid_it_is_asked_to_stop_where_it_never_runs() -> None:
    """What is never put to the test never passes; so the file has to say that the unit rests."""
    verdicts = not_passed(judged(NAME, UNSAID))
    assert verdicts["torque_off"] is verdicts["held_in_mode"] is Verdict.NOT_OBSERVED
    assert verdicts["reset_restores"] is Verdict.FAIL


def test_a_unit_that_runs_where_it_must_rest_fails_whoever_holds_a_button() -> None:
    held = ("load.sto: k1.out_a and key.work_a", "load.sto: k1.out_a and (key.work_a or enable.a)")
    for wired in (FREED, held):
        result = judged(NAME, wired)
        found = of(result, "idle_in_mode", None, "load")
        assert found.verdict is Verdict.FAIL
        assert "makes torque in mode 'set-up', in which it does not work" in found.sentence
        assert len(found.acts) == 5 + (wired is held)


def test_where_it_works_it_is_judged_as_ever() -> None:
    result = judged(NAME, ("load.sto: k1.out_a and key.work_a", "load.sto: key.work_a"))
    failed = {(one.id, one.function) for one in result.properties if one.verdict is Verdict.FAIL}
    assert {("torque_off", "hood_stop"), ("torque_off", "emergency_stop")} <= failed
    premises = [one for one in judged(NAME).properties if (one.id, one.subject) == ("torque_off", "load")]
    assert all(one.verdict is Verdict.PASS for one in premises)


def test_both_may_rest_in_turn() -> None:
    """The drive rests at work, the load at set-up: each is asked to be restored only where it works."""
    turned = (
        (
            "work: {title: work, selected: key.work_a and key.work_b}",
            "work: {title: work, selected: key.work_a and key.work_b, units: [load]}",
        ),
        (
            "drive.sto_a: k1.out_a and (key.work_a or enable.a)",
            "drive.sto_a: k1.out_a and key.setup_a and enable.a",
        ),
        (
            "drive.sto_b: k1.out_b and (key.work_b or enable.b)",
            "drive.sto_b: k1.out_b and key.setup_b and enable.b",
        ),
    )
    result = judged(NAME, *turned)
    assert not_passed(result) == {}
    assert {one.subject for one in result.properties if one.id == "reset_restores"} == {"drive", "load"}
    assert not_passed(judged(NAME, *turned[:1])).keys() == {"idle_in_mode"}


def idle(bench: Bench) -> dict[str, list[str]]:
    modes = bench.required.modes
    assert modes is not None
    return {mode: bench.required.idle_in(mode) for mode in modes.each}


@pytest.mark.parametrize(
    ("change", "rests"),
    [
        (("", ""), {"work": [], "set_up": ["load"]}),
        (UNSAID, {"work": [], "set_up": []}),
        (("units: [drive]", "units: [drive, load]"), {"work": [], "set_up": []}),
    ],
)
def test_who_is_not_named_rests(change: tuple[str, str], rests: dict[str, list[str]]) -> None:
    assert idle(shape(NAME, change)) == rests
