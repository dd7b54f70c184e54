"""All properties of one function are told alike: by its device, its title and its source."""

import pytest
from chain_benches import sample
from chain_shapes import SHAPES, shape

from interlock.bench import Bench
from interlock.chain import ir
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench
from interlock.chain.frame import Frame
from interlock.chain.property import NeverLasts, Premise
from interlock.chain.requirement import Requirement

OF_RESETS = {  # these say when they hold before they say what, and name the source of the reset
    "release_never_restarts",
    "reset_acts_on_release",
    "no_reset_under_demand",
    "stuck_reset",
    "reset_never_starts",
    "stays_off",
}
NAMES = sorted(path.stem for path in SHAPES.glob("*.yaml") if path.stem != "expected")


def required(bench: Bench) -> Requirement:
    return Requirement(bench, compile_bench(bench))


@pytest.mark.parametrize("name", [None, *NAMES], ids=lambda one: one or "sample")
def test_each_property_of_a_function_names_its_device_title_and_source(name: str | None) -> None:
    needs = required(sample() if name is None else shape(name))
    own = [one for one in properties(needs) if one.function is not None]
    assert own
    for one in own:
        frame = Frame(needs, str(one.function))
        assert one.title.startswith(f"{frame.device}: ")
        assert one.source.endswith(frame.function.source)
        if one.id not in OF_RESETS:
            assert one.requirement.startswith(f"{frame.function.title}: ")


@pytest.mark.parametrize("name", [None, *NAMES], ids=lambda one: one or "sample")
def test_no_two_properties_are_told_by_the_same_title(name: str | None) -> None:
    """But one that is split by the units' limits, which the acts then tell apart."""
    found = properties(required(sample() if name is None else shape(name)))
    keys = [(one.id, one.function, one.subject, one.title) for one in found]
    split = {key for key in keys if keys.count(key) > 1}
    assert {id_ for id_, *_ in split} <= {"channels_disagree", "stop_completes"}


def test_what_lasts_counts_from_the_demand_and_only_while_it_is_there() -> None:
    needs = required(sample())
    frame = Frame(needs, "cover_stop")
    claim = frame.lasts({"it": needs.torque("drive")}, 7)
    demand = needs.demand("cover_stop")
    assert claim == NeverLasts({"it": ir.all_of([demand, needs.torque("drive")])}, 7, demand)


def test_a_frame_puts_its_function_before_what_is_said() -> None:
    needs = required(sample())
    frame, premise = Frame(needs, "cover_stop"), Premise("it occurs", ir.TRUE)
    one = frame.rule("id", None, "does it", "it does it", "clause 1", frame.lasts({}, 0), (premise,), "no")
    function = needs.functions["cover_stop"]
    assert one.function == "cover_stop"
    assert one.title == f"{needs.name(function.demand)}: does it"
    assert one.requirement == f"{function.title}: it does it"
    assert one.source == f"clause 1; {function.source}"
    assert (one.subject, one.premises, one.complaint) == (None, (premise,), "no")
