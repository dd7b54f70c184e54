"""Which devices lie between demand and effect, and that a level is refused while nothing rated names one of them."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench import Bench, load_bench
from interlock.bench.expr import names
from interlock.bench.yaml_source import read_yaml
from interlock.demo.walk import BENCH_FILE
from interlock.evidence import chain_cover
from interlock.evidence.chain_cover import between, uncovered, uncovered_low_demand
from interlock.rating.inputs import RatingInputs

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"
DEMO = load_bench(BENCH_FILE)

# by hand from the wiring of each bench: between demand and torque off
WAYS = [
    ("relay_behind_relay", "hood_stop", {"hood", "k1", "k2", "pump"}),
    ("contactor_pair", "hood_stop", {"hood", "k1", "q1", "q2", "pump"}),
    ("heat_switch", "heat_stop", {"heat", "k1", "k2", "drive"}),
    ("heat_switch", "halt_stop", {"halt", "k1", "drive"}),
    ("diagnostic_feedback", "door_stop", {"door", "k1", "pump"}),  # the drive's report is no way of its own
    ("guard_locking", "halt_stop", {"halt", "k1", "pump"}),  # nor are shaft and guard, behind the motor
    ("set_up_mode", "enabling_stop", {"enable", "drive"}),
    ("two_zones", "east_stop", {"door_east", "k1", "east"}),
    ("two_zones", "emergency_stop", {"estop", "k3", "east", "west"}),
    ("single_contactor", "emergency_stop", {"estop", "k1", "q1", "pump"}),
]


@pytest.mark.parametrize(
    ("bench", "function", "expected"), WAYS, ids=[f"{bench}-{function}" for bench, function, _ in WAYS]
)
def test_devices_between_demand_and_torque(bench, function, expected) -> None:
    assert between(load_bench(SHAPES / f"{bench}.yaml"), function, ["torque_off"]) == expected


@pytest.mark.parametrize(
    ("effects", "expected"),
    [
        (["torque_off"], {"emergency", "relay", "prime", "brake", "contactor", "link"}),
        (["standstill"], {"emergency", "relay", "prime", "brake", "contactor", "link"}),  # as without torque
        (["contactor_open"], {"emergency", "contactor"}),
        (["bus_discharged"], {"emergency", "contactor", "link"}),
        (["supply_stays_off"], {"emergency", "contactor"}),
        (["references_zero"], {"emergency", "relay", "prime", "brake", "contactor", "link", "setpoints"}),
    ],
)
def test_each_effect_has_its_own_end(effects, expected) -> None:
    """The emergency stop of the built-in bench takes the torque by two ways: relay, and contactor with bus."""
    assert between(DEMO, "emergency_stop", effects) == expected


def test_several_effects_need_the_devices_of_all() -> None:
    both = between(DEMO, "emergency_stop", ["contactor_open", "torque_off"])
    assert both == between(DEMO, "emergency_stop", ["torque_off"])


def test_where_there_are_too_many_ways_more_counts_not_less(monkeypatch) -> None:
    exact = {name: between(DEMO, name, ["torque_off"]) for name in DEMO.required.functions}
    monkeypatch.setattr(chain_cover, "_MOST_STEPS", 1)
    for name, devices in exact.items():
        assert between(DEMO, name, ["torque_off"]) >= devices


@given(st.sampled_from(sorted(DEMO.required.functions)), st.sampled_from(["torque_off", "references_zero"]))
def test_cutting_any_device_between_breaks_some_way(function, effect) -> None:
    """Each device found, but those at the ends, is fed by a device found and feeds one."""
    found, demand = between(DEMO, function, [effect]), DEMO.required.functions[function].demand
    feeds = {
        (one.partition(".")[0], port.partition(".")[0]) for port, e in DEMO.wiring.items() for one in names(e)
    }
    ends = {*DEMO.required.effects.torque_off.of, "setpoints"}
    for device in found - {demand} - ends:
        assert any((before, device) in feeds for before in found)
        assert any((device, after) in feeds for after in found)


# what is rated against it


def inputs(
    subsystems: dict[str, list[str]], *, function="hood_stop", effects=None, not_rated=None
) -> RatingInputs:
    return RatingInputs.model_validate(
        {
            "edition": 2015,
            "functions": {
                function: {
                    "required": {"pl": "c"},
                    "effects": effects or ["torque_off"],
                    "not_rated": not_rated or {},
                    "subsystems": {
                        name: {"pl": "e", "source": "s", "devices": devices}
                        for name, devices in subsystems.items()
                    },
                }
            },
        }
    )


TEXT = "rating:\n  functions:\n    hood_stop:\n      subsystems:\n    emergency_stop:\n      subsystems:\n"
WHOLE = {"in": ["hood"], "logic": ["relay"], "out": ["prime", "brake"]}


def reasons(section: RatingInputs, losing=None, bench: Bench = DEMO) -> tuple[str, ...]:
    (found,) = uncovered(bench, read_yaml("some/where/bench.yaml", TEXT), section, losing or {}).values()
    return found


def test_a_chain_named_whole_is_covered() -> None:
    assert reasons(inputs(WHOLE)) == ()


@pytest.mark.parametrize("supplied", [False, True])
def test_where_no_effects_are_named_the_supply_of_the_function_counts_too(supplied: bool) -> None:
    """A stop after which the supply must stay off needs the contactor, though its torque goes without it."""
    supply = DEMO.required.functions["emergency_stop"].supply if supplied else None
    stop = DEMO.required.functions["hood_stop"].model_copy(
        update={"effects": ["torque_off"], "supply": supply}
    )
    functions = {**DEMO.required.functions, "hood_stop": stop}
    bench = DEMO.model_copy(update={"required": DEMO.required.model_copy(update={"functions": functions})})
    section = inputs(WHOLE)
    rated = section.functions["hood_stop"].model_copy(update={"effects": None})
    told = reasons(section.model_copy(update={"functions": {"hood_stop": rated}}), bench=bench)
    assert ["main contactor (contactor)" in one for one in told] == [True] * supplied


@pytest.mark.parametrize("device", ["hood", "relay", "prime", "brake"])
def test_each_device_left_unnamed_is_told_by_name_and_place(device) -> None:
    subsystems = {name: [one for one in devices if one != device] for name, devices in WHOLE.items()}
    (reason,) = reasons(inputs(subsystems))
    assert f"{DEMO.devices[device].name} ({device})" in reason
    assert "between the guard hood and torque off" in reason
    assert reason.endswith("(bench.yaml:4:7)")  # the key `subsystems`; the folder is left out


def test_a_subsystem_that_names_nothing_covers_nothing() -> None:
    (reason,) = reasons(inputs({"all": []}))
    for device in ("hood", "relay", "prime", "brake"):
        assert f"({device})" in reason


def test_one_way_may_be_left_out_with_a_reason_if_another_leads_there() -> None:
    named = {**WHOLE, "in": ["emergency"]}
    section = inputs(
        named, function="emergency_stop", not_rated={"contactor": "second way", "link": "second way"}
    )
    assert reasons(section) == ()
    (reason,) = reasons(inputs(named, function="emergency_stop", not_rated={"contactor": "second way"}))
    assert "DC link (link)" in reason


@pytest.mark.parametrize("left_out", ["relay", "hood", "prime"])
def test_what_every_way_passes_cannot_be_left_out(left_out) -> None:
    subsystems = {name: [one for one in devices if one != left_out] for name, devices in WHOLE.items()}
    (reason,) = reasons(inputs(subsystems, not_rated={left_out: "it never fails"}))
    assert "no way leads from the guard hood to" in reason
    assert "they cannot be left out" in reason


def test_leaving_out_both_ways_is_refused_though_each_alone_may_be() -> None:
    named = {"in": ["emergency"], "out": ["prime", "brake"]}
    section = inputs(
        named, function="emergency_stop", not_rated=dict.fromkeys(["relay", "contactor", "link"], "other way")
    )
    (reason,) = reasons(section)
    assert "no way leads from the emergency stop to prime mover, brake" in reason


def test_a_device_whose_single_fault_loses_the_effect_must_be_rated_wherever_it_lies() -> None:
    losing = {("hood_stop", "torque_off"): {"link"}}
    (reason,) = reasons(inputs(WHOLE), losing)
    assert "DC link (link)" in reason
    (reason,) = reasons(inputs(WHOLE, not_rated={"link": "it never fails"}), losing)
    assert "a single fault loses torque off, so it cannot be left out" in reason
    assert reasons(inputs({**WHOLE, "bus": ["link"]}), losing) == ()


def test_a_fault_that_loses_another_effect_asks_for_nothing() -> None:
    assert reasons(inputs(WHOLE), {("hood_stop", "references_zero"): {"setpoints"}}) == ()
    assert reasons(inputs(WHOLE), {("button_stop", "torque_off"): {"link"}}) == ()


def test_without_effects_named_all_that_the_bench_requires_count() -> None:
    section = inputs(WHOLE)
    everything = section.model_copy(
        update={
            "functions": {
                "hood_stop": section.functions["hood_stop"].model_copy(update={"effects": None}),
            }
        }
    )
    (reason,) = reasons(everything)
    assert "setpoints (setpoints)" in reason


devices = st.sets(st.sampled_from(["hood", "relay", "prime", "brake", "contactor", "link", "setpoints"]))


@given(devices, devices)
def test_naming_more_never_leaves_more_open(some, more) -> None:
    fewer, larger = ({"all": sorted(one)} for one in (some, some | more))
    assert bool(reasons(inputs(larger))) <= bool(reasons(inputs(fewer)))


@given(devices)
def test_covered_means_that_every_device_between_is_named(named) -> None:
    """Against the definition itself, without any exclusion."""
    way = between(DEMO, "hood_stop", ["torque_off"])
    assert (not reasons(inputs({"all": sorted(named)}))) == (way <= named)


def test_low_demand_must_cover_its_chain_too() -> None:
    element = {
        "devices": ["contactor"],
        "architecture": "1oo1",
        "lambda_du_per_h": 1e-7,
        "proof_test_h": 8760,
        "proof_test_coverage": 0.9,
        "lifetime_h": 87600,
        "mttr_h": 8,
        "source": "s",
    }
    low = {
        "required_sil": 1,
        "demands_per_year": 1,
        "effects": ["contactor_open"],
        "elements": {"contactor": element},
    }
    text = "rating:\n  low_demand:\n    emergency_stop: {elements: {}}\n"
    functions = inputs({"all": []}, function="emergency_stop").model_dump()["functions"]

    def found(section):
        checked = RatingInputs.model_validate(
            {"edition": 2015, "functions": functions, "low_demand": section}
        )
        (one,) = uncovered_low_demand(DEMO, read_yaml("bench.yaml", text), checked, {}).values()
        return one

    (reason,) = found({"emergency_stop": low})
    assert "emergency stop (emergency)" in reason
    assert reason.endswith("(bench.yaml:3:22)")
    button = {**element, "devices": ["emergency"]}
    assert found({"emergency_stop": {**low, "elements": {"contactor": element, "button": button}}}) == ()


FED = {  # bench, function, the unit that only its supply can stop, all that lies before it
    "single_contactor": ("emergency_stop", "pump", ["estop", "k1", "q1"]),
    "old_drive_behind_a_contactor": ("hood_stop", "drive", ["hood", "k1", "q1"]),
}


@pytest.mark.parametrize("bench", sorted(FED))
def test_a_unit_that_only_its_supply_stops_may_be_left_out(bench) -> None:
    """A motor on the line, a drive with bridged torque-off inputs: the contactor is the last part of the function."""
    function, unit, before = FED[bench]
    shape = load_bench(SHAPES / f"{bench}.yaml")
    section = inputs(
        {"all": before}, function=function, not_rated={unit: "without current it makes no torque"}
    )
    assert reasons(section, bench=shape) == ()
    (named,) = reasons(inputs({"all": before}, function=function), bench=shape)
    assert f"({unit})" in named


@pytest.mark.parametrize("bench", sorted(FED))
def test_what_feeds_such_a_unit_may_not_be_left_out(bench) -> None:
    function, unit, before = FED[bench]
    shape = load_bench(SHAPES / f"{bench}.yaml")
    left_out = dict.fromkeys([unit, before[-1]], "never fails")
    (reason,) = reasons(inputs({"all": before[:-1]}, function=function, not_rated=left_out), bench=shape)
    assert f"no way leads from the {shape.devices[before[0]].name} to {shape.devices[unit].name}" in reason


@pytest.mark.parametrize("bench", sorted(FED))
def test_nor_may_such_a_unit_if_a_fault_of_its_own_loses_the_effect(bench) -> None:
    function, unit, before = FED[bench]
    section = inputs({"all": before}, function=function, not_rated={unit: "never fails"})
    (reason,) = reasons(section, {(function, "torque_off"): {unit}}, load_bench(SHAPES / f"{bench}.yaml"))
    assert "a single fault loses torque off" in reason
