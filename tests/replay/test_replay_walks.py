"""Chain and replay agree: what the observers of the chain call forbidden on a walk fails in the log of that walk.

The oracle is the chain's reference interpreter, which knows nothing of logs; replay knows nothing of its observers.
Time plays no part on these walks, so each must find what the other one finds, function by function, unit by unit.
"""

import random
from functools import cache

import pytest
from chain_walk import Walk
from replay_walks import SHAPES, Taken, bench_of, blinded, rewired, walks

from interlock.bench import load_bench
from interlock.chain.compile import compile_bench
from interlock.chain.requirement import Requirement
from interlock.replay import Judgement, judge_trace
from interlock.replay.modes import MODE_CHANGE, limits_of
from interlock.replay.resets import bars, button_of, needs_reset
from interlock.verdict import Verdict

BENCHES = ["two_zones", "one_reset_for_two_zones", "set_up_mode", "jog_mode", "set_up_of_one_unit", "wide"]
STOPPED = {"torque_off", "enable_off", "stays_off", "reset_on_release", "idle_in_mode"}
STARTED = {"restart", "stays_off", "starts_nothing", "explained"}
RIGHT, WRONG = 2, 4
MORE = [("set_up_mode", "starts_nothing"), ("wide", "starts_nothing")]


@cache
def taken(shape: str, change: str = "") -> tuple[tuple[Taken, Judgement], ...]:
    """Walks on the right bench, and on benches with one input wired wrongly."""
    swap = ("assessment of the bench\n  effects", f"assessment of the bench\n    change: {change}\n  effects")
    bench = bench_of(shape, *([swap] if change else []))
    rng = random.Random(f"{shape}{change}")
    ways = [
        *walks(bench, 1, RIGHT),
        *(way for _ in range(WRONG) for way in walks(rewired(bench, rng), rng.random(), 1)),
    ]
    return tuple((way, way.judged()) for way in ways)


def said(judgement: Judgement, verdict: Verdict, effects: set[str]) -> set[tuple[str, str]]:
    return {
        (one.function, one.subject)
        for one in judgement.findings
        if one.verdict is verdict and one.effect in effects
    }


@pytest.mark.parametrize(("shape", "change"), [*((one, "") for one in BENCHES), *MORE])
def test_what_the_chain_forbids_never_passes_and_nothing_else_fails(shape: str, change: str) -> None:
    for way, judged in taken(shape, change):
        failed, open_ = said(judged, Verdict.FAIL, STOPPED), said(judged, Verdict.INCONCLUSIVE, STOPPED)
        assert way.forbidden <= failed | open_
        assert {pair for pair in failed - way.forbidden if pair[1] not in way.started} == set()


@pytest.mark.parametrize(("shape", "change"), [*((one, "") for one in BENCHES), *MORE])
def test_a_right_bench_never_fails(shape: str, change: str) -> None:
    for way, judged in taken(shape, change)[:RIGHT]:
        assert way.forbidden == way.started == way.changed == set()
        assert judged.verdict is not Verdict.FAIL


@pytest.mark.parametrize("message", ["Cell", "Axis"])
@pytest.mark.parametrize("shape", ["one_reset_for_two_zones", "set_up_mode", "wide"])
def test_what_is_not_shown_decides_nothing(shape: str, message: str) -> None:
    """A right bench does not fail because frames are missing, and no log with missing frames passes."""
    for way, _ in taken(shape, "")[:RIGHT]:
        for lo, long in ((3.3, 0.06), (8.1, 0.9), (14.2, 3.0)):
            said = judge_trace(way.bench, blinded(way.trace(), message, lo, lo + long))
            assert said.verdict in {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}


def test_the_walks_meet_what_they_are_for() -> None:
    every = [one for shape in BENCHES for one in taken(shape, "")]
    met = {(way.bench.bench.id, function) for way, _ in every for function, _ in way.forbidden}
    assert len({shape for shape, _ in met}) >= 3
    assert sum(bool(way.forbidden) for way, _ in every) >= 5
    decided = [way.forbidden <= said(judged, Verdict.FAIL, STOPPED) for way, judged in every if way.forbidden]
    assert sum(decided) > len(decided) / 2  # left open: a press that began while a demand was there


@pytest.mark.parametrize(
    ("story", "wired", "harmed"),
    [
        # West is reset by the button of the other zone.
        ("door_west.open_a door_west.open_b door_west.close_a door_west.close_b reset_east.press reset_east.release",
         ("k2.reset: reset_west.pressed", "k2.reset: reset_east.pressed or reset_west.pressed"),
         {("west_stop", "west")}),
        # The emergency stop is reset by any button.
        ("estop.press estop.release reset_east.press reset_east.release",
         ("k3.reset: reset.pressed", "k3.reset: reset.pressed or reset_east.pressed"),
         {("emergency_stop", "east"), ("emergency_stop", "west")}),
        # The east door stops the west motor too: more than is asked for harms nobody.
        ("door_east.open_a door_east.open_b door_east.close_a door_east.close_b reset_east.press reset_east.release",
         ("west.sto_a: k2.out_a and", "west.sto_a: k1.out_a and k2.out_a and"), set()),
    ],
)  # fmt: skip
def test_stories_of_two_zones(story: str, wired: tuple[str, str], harmed: set[tuple[str, str]]) -> None:
    ready = (
        "reset_east.press reset_east.release reset_west.press reset_west.release reset.press reset.release "
    )
    way = told_story(bench_of("two_zones", wired), f"{ready}east.start west.start {story}".split())
    judged = way.judged()
    assert way.forbidden == harmed
    assert said(judged, Verdict.FAIL, STOPPED) == harmed


def told_story(bench: object, words: list[str]) -> Taken:
    """These acts in this order."""
    way = Taken(bench, random.Random(0), 0)  # type: ignore[arg-type]
    for word in words:
        way.act(word)
    return way


@pytest.mark.parametrize("shape", sorted(one.stem for one in SHAPES.glob("*.yaml") if one.stem != "expected"))
def test_reset_buttons_bars_and_units_are_those_of_the_chain(shape: str) -> None:
    bench = load_bench(SHAPES / f"{shape}.yaml")
    chain = Requirement(bench, compile_bench(bench))
    for name in bench.required.functions:
        assert bars(bench.required, name) == chain.bars(name)
        assert button_of(bench.required, name) == chain.reset_of(name)
        assert needs_reset(bench.required, name) == chain.needs_reset(name)
        assert limits_of(bench, name) == {unit: chain.limit_ns(name, unit) for unit in chain.units_of(name)}
    assert bars(bench.required, MODE_CHANGE) == chain.bars(None)
    assert limits_of(bench, MODE_CHANGE) == {unit: chain.limit_ns(None, unit) for unit in chain.units}


def test_the_walk_is_the_one_of_the_chain() -> None:
    """The helper takes the acts that it says it takes."""
    bench = bench_of("two_zones")
    way = told_story(bench, ["door_east.open_a", "door_east.open_b"])
    assert Walk(bench).do("door_east.open_a", "door_east.open_b")["door_east"] == "open"
    assert [value for _, value in way.steps("door_east.a")] == [True, False]
