"""A log can be judged only if it shows the modes and every reset button: what is missing is named, with what to add."""

import pytest
from replay_rigs import SHAPES
from replay_walks import bench_of

from interlock.bench import Bench, load_bench
from interlock.errors import InterlockError
from interlock.replay.judge import judge_trace
from interlock.replay.scope import refuse_unshown
from interlock.trace import Trace


def without(shape: str, *ports: str) -> Bench:
    """The bench, its file no longer saying how these show."""
    bench = bench_of(shape)
    assert bench.shows is not None
    states = {port: one for port, one in bench.shows.states.items() if port not in ports}
    return bench.model_copy(update={"shows": bench.shows.model_copy(update={"states": states})})


@pytest.mark.parametrize(
    ("shape", "port", "because"),
    [
        ("set_up_mode", "key.work_a", "required.modes.each.work"),
        ("set_up_mode", "key.setup_b", "required.modes.each.set_up"),
        ("set_up_mode", "reset.pressed", "required.reset.by"),
        ("two_zones", "reset_west.pressed", "required.functions.west_stop.reset_by"),
        ("two_zones", "reset.pressed", "required.reset.by"),
        ("jog_mode", "key.setup_a", "required.modes.each.set_up"),
    ],
)
def test_what_is_missing_is_named_with_the_line_to_add(shape: str, port: str, because: str) -> None:
    bench = without(shape, port)
    assert bench.shows is not None
    with pytest.raises(InterlockError) as refused:
        refuse_unshown(bench, bench.shows)
    said = str(refused.value)
    assert f"{port} ({because})" in said
    assert f"'{port}: MESSAGE.SIGNAL is 1'" in said


def test_several_are_named_at_once_and_before_the_log_is_looked_at() -> None:
    empty = Trace(0, False, 0, {}, {}, ())
    with pytest.raises(InterlockError, match=r"key\.work_a .*; key\.work_b .*; key\.setup_a "):
        judge_trace(without("set_up_mode", "key.work_a", "key.work_b", "key.setup_a"), empty)


@pytest.mark.parametrize("shape", ["two_zones", "set_up_mode", "jog_mode", "one_reset_for_two_zones", "wide"])
def test_a_bench_that_shows_them_is_let_through(shape: str) -> None:
    bench = bench_of(shape)
    assert bench.shows is not None
    refuse_unshown(bench, bench.shows)


@pytest.mark.parametrize("port", ["door_east.a", "estop.actuated", "east.torque", "east.enabled"])
def test_what_merely_goes_unobserved_if_it_is_missing_is_no_error(port: str) -> None:
    bench = without("two_zones", port)
    assert bench.shows is not None
    refuse_unshown(bench, bench.shows)


def test_a_plain_bench_needs_none_of_it() -> None:
    """A bench with one reset and no modes is judged as it was: a button that is not shown shows as not observed."""
    bench = load_bench(SHAPES.parent / "sample" / "bench.yaml")
    assert bench.shows is not None
    states = {port: one for port, one in bench.shows.states.items() if port != "reset.pressed"}
    refuse_unshown(bench, bench.shows.model_copy(update={"states": states}))


def test_a_function_with_the_name_that_the_change_of_the_mode_bears_is_refused() -> None:
    bench = bench_of("set_up_mode", ("    hood_stop:", "    mode_change:"))
    assert bench.shows is not None
    with pytest.raises(InterlockError, match=r"'mode_change', by which .* give the function another id"):
        refuse_unshown(bench, bench.shows)
