"""Which properties a bench gets: those of its required section, none from its wiring, in a telling order."""

from collections import Counter
from itertools import groupby

import pytest
from chain_benches import EXPECTED, SAMPLE, WRONG, patched, sample, wrong

from interlock.bench import Bench
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench
from interlock.chain.property import Property
from interlock.chain.requirement import Requirement


def catalogue(bench: Bench) -> tuple[Property, ...]:
    return properties(Requirement(bench, compile_bench(bench)))


def keys(bench: Bench) -> list[tuple[str, str | None, str | None]]:
    return [(one.id, one.function, one.subject) for one in catalogue(bench)]


def test_each_property_stands_once() -> None:
    assert max(Counter(keys(sample())).values()) == 1


def test_the_sample_gets_every_kind_of_property() -> None:
    ids = [one.id for one in catalogue(sample())]
    assert list(dict.fromkeys(ids)) == [
        "torque_off",
        "torque_off_inputs",
        "contactor_open",
        "supply_on_dead",
        "supply_stays_off",
        "release_never_restarts",
        "reset_acts_on_release",
        "no_reset_under_demand",
        "stuck_reset",
        "reset_never_starts",
        "stays_off",
        "stop_completes",
        "channels_disagree",
        "supply_return_never_starts",
        "start_by_person",
        "references_zero",
        "references_by_person",
        "bus_discharged",
        "bus_discharged_in_time",
        "recovers",
        "reset_restores",
    ]


def test_properties_of_one_rule_stand_together() -> None:
    ids = [one.id for one in catalogue(sample())]
    assert len(list(groupby(ids))) == len(set(ids))


def test_each_function_and_unit_is_judged() -> None:
    found = keys(sample())
    for function in ("cover_stop", "button_stop", "emergency_stop"):
        for unit in ("drive", "load"):
            assert ("torque_off", function, unit) in found
            assert ("torque_off_inputs", function, unit) in found


@pytest.mark.parametrize(
    ("patch", "gone"),
    [
        (
            {"required": {"functions": {"emergency_stop": {"supply": None}}}},
            {"supply_on_dead", "supply_stays_off"},
        ),
        ({"required": {"functions": {"cover_stop": {"channels": None}}}}, {"channels_disagree"}),
        (
            {
                "required": {
                    "effects": {"references_zero": None},
                    "functions": {
                        name: {"effects": ["torque_off", "standstill"]}
                        for name in ("cover_stop", "button_stop", "emergency_stop")
                    },
                }
            },
            {"references_zero", "references_by_person"},
        ),
    ],
)
def test_what_is_not_required_is_not_judged(patch: dict[str, object], gone: set[str]) -> None:
    before, after = ({one[0] for one in keys(bench)} for bench in (sample(), patched(SAMPLE, patch)))
    assert gone <= before
    assert gone & after == set()


def test_a_function_without_an_effect_is_not_judged_by_it() -> None:
    found = keys(sample())
    assert {function for rule, function, _ in found if rule == "contactor_open"} == {"emergency_stop"}
    assert {function for rule, function, _ in found if rule == "bus_discharged"} == {"emergency_stop"}


def test_a_unit_with_a_single_torque_off_input_has_no_second_one_to_judge() -> None:
    found = keys(wrong("29_reset_under_emergency_off.yaml"))
    assert "torque_off_inputs" not in {rule for rule, _, _ in found}


@pytest.mark.parametrize(
    "name", sorted(name for name in EXPECTED if set(EXPECTED[name]["mend"]) == {"wiring"})
)
def test_wiring_changes_no_property_but_those_about_inputs(name: str) -> None:
    """The requirement is apart: other contacts in the wiring, the same properties."""
    as_built = wrong(name)
    mended = patched(WRONG / name, EXPECTED[name]["mend"])
    for one, other in zip(catalogue(as_built), catalogue(mended), strict=True):
        if one.id not in {"torque_off_inputs", "power_removed"}:
            assert one == other


def test_every_text_is_whole() -> None:
    for one in catalogue(sample()):
        for text in (one.title, one.requirement, one.source, *(premise.what for premise in one.premises)):
            assert text
            assert "{" not in text
        assert not set(one.complaint.replace("{who}", "").replace("{state}", "").replace("{s}", "")) & set(
            "{}"
        )


def test_every_property_but_that_of_recovery_has_a_premise() -> None:
    assert {one.id for one in catalogue(sample()) if not one.premises} == {"recovers"}


def test_each_channel_of_a_switch_is_a_premise_of_its_own() -> None:
    [one] = [
        one
        for one in catalogue(sample())
        if (one.id, one.function, one.subject) == ("torque_off", "cover_stop", "load")
    ]
    assert [premise.what for premise in one.premises] == [
        "channel a of the chamber cover opens alone while the load unit makes torque",
        "channel b of the chamber cover opens alone while the load unit makes torque",
    ]
