"""Right benches of other shapes pass, and their wrong neighbours fail by the rule that one would expect.

Invented benches; what counts as right is common practice (no source) unless a standard is named.
"""

from typing import Any

from chain_benches import EXPECTED, SAMPLE, WRONG, merged, patched

from interlock.chain import CheckResult, check
from interlock.verdict import Verdict

RIG = "01_latch_not_sealed.yaml"
SOUND: dict[str, Any] = EXPECTED[RIG]["mend"]


def rig(*patches: dict[str, Any]) -> CheckResult:
    """The small rig, mended, with further changes."""
    patch = SOUND
    for more in patches:
        patch = {**patch, **{key: merged_keeping(patch.get(key), value) for key, value in more.items()}}
    return check(patched(WRONG / RIG, patch))


def merged_keeping(target: Any, patch: Any) -> Any:
    """Merge two patches into one: null stays in it."""
    if not isinstance(patch, dict) or not isinstance(target, dict):
        return patch
    return {**target, **{key: merged_keeping(target.get(key), value) for key, value in patch.items()}}


def failing(result: CheckResult) -> list[str]:
    return list(dict.fromkeys(one.id for one in result.properties if one.verdict is not Verdict.PASS))


def test_the_rig_itself_passes() -> None:
    assert failing(rig()) == []


START = {
    "devices": {"go": {"kind": "push_button", "name": "start button"}},
    "wiring": {"pump.run": "go.pressed"},
}


def test_a_start_button_may_start_and_its_being_held_is_an_assumption() -> None:
    result = rig(START)
    assert failing(result) == []
    assert any("Nobody holds a start button" in one for one in result.assumptions)
    assert not any("start button" in one for one in rig().assumptions)


def test_a_start_button_that_resets_as_well_fails() -> None:
    wiring = {"wiring": {"k1.reset": "acknowledge.pressed or go.pressed"}}
    assert "stays_off" in failing(rig(START, wiring))


def test_torque_that_begins_with_the_reset_button_itself_fails() -> None:
    result = failing(rig({"wiring": {"pump.run": "not acknowledge.pressed and k1.out_a"}}))
    assert "reset_never_starts" in result


ONE_AT_A_TIME = {
    "text": "drive that is locked against another one",
    "inputs": {"sto_a": "never", "sto_b": "never", "free": "never"},
    "off_channels": ["sto_a", "sto_b"],
    "start": "disabled",
    "states": {"disabled": "torque off", "ready": "permitted", "running": "makes torque"},
    "outputs": {"enabled": "ready or running", "torque": "running"},
    "transitions": [
        {"when": "not sto_a or not sto_b", "from": ["ready", "running"], "to": "disabled"},
        {"when": "sto_a and sto_b", "from": ["disabled"], "to": "ready"},
        {"act": "start", "when": "free", "from": ["ready"], "to": "running", "words": "start the {name}"},
        {"act": "stop", "from": ["running"], "to": "ready", "words": "stop the {name}"},
    ],
}


def locked(pump: str, brake: str) -> dict[str, Any]:
    return {
        "kinds": {"locked_drive": ONE_AT_A_TIME},
        "devices": {"pump": {"kind": "locked_drive"}, "brake": {"kind": "locked_drive"}},
        "wiring": {"pump.supply": None, "brake.supply": None, "pump.free": pump, "brake.free": brake},
    }


def test_units_that_never_run_together_can_still_each_be_brought_back() -> None:
    assert failing(rig(locked("not brake.torque", "not pump.torque"))) == []


def test_a_unit_that_waits_for_itself_never_runs() -> None:
    result = rig(locked("not brake.torque", "brake.torque"))
    [one] = [one for one in result.properties if one.id == "recovers"]
    assert one.sentence == "Right after power-up no acts bring the brake motor to make torque."


HEAT = {
    "text": "temperature switch that opens when hot and closes again when cool",
    "delays": ["cooling"],
    "start": "cool",
    "states": {"cool": "cool", "hot": "too hot", "cooling": "cooling down"},
    "outputs": {"a": "cool", "b": "cool", "tripped": "hot or cooling"},
    "demand": "tripped",
    "transitions": [
        {"act": "heat", "from": ["cool"], "to": "hot", "words": "let the {name} get hot"},
        {"act": "rest", "from": ["hot"], "to": "cooling", "words": "let the {name} rest"},
        {"after": "cooling", "from": ["cooling"], "to": "cool"},
    ],
}


def heated(**more: Any) -> dict[str, Any]:
    function = {
        "title": "a hot motor stops",
        "demand": "heat",
        "stop_category": 0,
        "effects": ["torque_off", "references_zero"],
        "source": "invented",
    }
    return {
        "kinds": {"heat_switch": HEAT},
        "devices": {"heat": {"kind": "heat_switch", "name": "heat switch", "delays": {"cooling": "60 s"}}},
        "required": {"functions": {"heat_stop": function}},
        **more,
    }


def test_a_demand_that_ends_by_itself_permits_nothing() -> None:
    wiring = {
        "k1.channel_a": "hood.a and halt.a and heat.a",
        "k1.channel_b": "hood.b and halt.b and heat.b",
    }
    assert failing(rig(heated(wiring=wiring))) == []


def test_a_demand_that_ends_by_itself_and_restarts_is_found() -> None:
    wiring = {"pump.sto_a": "k1.out_a and heat.a", "pump.sto_b": "k1.out_b and heat.b"}
    wiring |= {"brake.sto_a": "k1.out_a and heat.a", "brake.sto_b": "k1.out_b and heat.b"}
    assert "release_never_restarts" in failing(rig(heated(wiring=wiring)))


def interposed(drop_out: str) -> dict[str, Any]:
    """The torque-off inputs hang on a contactor, which the relay drives."""
    contactor = {
        "kind": "contactor",
        "name": "pilot contactor",
        "delays": {"pick_up": "20 ms", "drop_out": drop_out},
    }
    inputs = {f"{unit}.sto_{channel}": "q1.main" for unit in ("pump", "brake") for channel in "ab"}
    return {
        "devices": {"q1": contactor},
        "wiring": {
            **inputs,
            "q1.coil": "k1.out_a and k1.out_b",
            "setpoints.zero": "not k1.out_a or not k1.out_b",
        },
    }


def test_a_late_reaction_in_the_stop_s_way_is_excused_within_the_limit() -> None:
    assert failing(rig(interposed("49 ms"))) == []


def test_a_stop_overtaken_by_a_quick_reset_is_not_carried_through() -> None:
    """A contactor slower than a finger: let go, reset, and it has never dropped out."""
    assert failing(rig(interposed("120 ms"))) == ["stop_completes"]


def test_a_late_reaction_beyond_the_limit_is_not() -> None:
    result = rig(interposed("121 ms"))
    [one, *_] = [one for one in result.properties if one.verdict is Verdict.FAIL]
    assert one.id == "torque_off"
    assert "data sheet" in one.sentence


def test_supply_on_may_come_after_the_reset_only() -> None:
    coil = "estop.c and relay.out_a and (supply_on.pressed or contactor.aux)"
    assert failing(check(patched(SAMPLE, {"wiring": {"contactor.coil": coil}}))) == []


def test_a_contactor_proved_by_its_mirror_contact_before_each_reset() -> None:
    """Feedback loop: the relay resets only while the contactor has dropped (IEC 60947-4-1, annex F)."""
    loop = {
        "devices": {
            "q1": {
                "kind": "contactor",
                "name": "motor contactor",
                "delays": {"pick_up": "20 ms", "drop_out": "20 ms"},
            }
        },
        "wiring": {
            "k1.feedback": "q1.mirror",
            "q1.coil": "k1.out_a and k1.out_b",
            "pump.supply": "q1.main",
            "brake.supply": "q1.main",
        },
    }
    assert failing(rig(loop)) == []


def test_a_unit_of_which_only_the_supply_is_taken_is_judged_by_its_torque_alone() -> None:
    """Nothing is said of torque-off inputs that a function does not use."""
    patch = {
        "wiring": {
            "relay.channel_a": "cover.a and button.a",
            "relay.channel_b": "cover.b and button.b",
            "references.zero": "not relay.out_a or not relay.out_b or estop.actuated",
        },
        "devices": {"bus": {"delays": {"discharge": "50 ms"}}},  # after the 50 ms of the contactor
    }
    result = check(patched(SAMPLE, patch))
    judged = {(one.id, one.function): one.verdict for one in result.properties}
    assert judged["torque_off", "emergency_stop"] is Verdict.PASS
    assert judged["torque_off_inputs", "emergency_stop"] is Verdict.PASS
    assert judged["stays_off", "emergency_stop"] is Verdict.FAIL


RAMP = {
    "text": "drive that brakes by a ramp and then takes its torque away (SS1, IEC 61800-5-2)",
    "inputs": {"sto_a": "never", "sto_b": "never"},
    "off_channels": ["sto_a", "sto_b"],
    "delays": ["ramp"],
    "start": "disabled",
    "states": {
        "disabled": "torque off",
        "ready": "permitted",
        "running": "makes torque",
        "braking": "brakes",
    },
    "outputs": {"torque": "running or braking"},
    "braking": "braking",
    "transitions": [
        {"when": "not sto_a or not sto_b", "from": ["running"], "to": "braking"},
        {"when": "not sto_a or not sto_b", "from": ["ready"], "to": "disabled"},
        {"when": "sto_a and sto_b", "from": ["disabled"], "to": "ready"},
        {"after": "ramp", "from": ["braking"], "to": "disabled"},
        {"act": "start", "from": ["ready"], "to": "running", "words": "start the {name}"},
        {"act": "stop", "from": ["running"], "to": "ready", "words": "stop the {name}"},
    ],
}


def ramped(within: str) -> dict[str, Any]:
    return {
        "kinds": {"ramp_drive": RAMP},
        "devices": {"pump": {"kind": "ramp_drive", "delays": {"ramp": "500 ms"}}},
        "wiring": {"pump.supply": None, "setpoints.zero": "not k1.out_a or not k1.out_b"},
        "required": {
            "effects": {"torque_off": {"within": within}},
            "functions": {"hood_stop": {"stop_category": 1}, "halt_stop": {"stop_category": 1}},
        },
    }


def test_a_ramp_that_is_always_finished_is_a_lawful_stop() -> None:
    """Stop category 1 (IEC 60204-1:2016, 9.2.2): torque stays until the ramp is over, then goes."""
    assert failing(rig(ramped("600 ms"))) == []


def test_a_kind_that_does_not_say_that_it_brakes_shows_no_controlled_stop() -> None:
    unsaid = {"kinds": {"ramp_drive": {**RAMP, "braking": None}}}
    result = rig(ramped("600 ms"), unsaid)
    told = {one.sentence for one in result.properties if one.verdict is not Verdict.PASS}
    assert {one.verdict for one in result.properties} == {Verdict.PASS, Verdict.INCONCLUSIVE}
    assert all("braking in a kind of your own" in one for one in told)


def test_a_ramp_longer_than_the_limit_is_too_late() -> None:
    assert "torque_off" in failing(rig(ramped("400 ms")))


def test_merging_patches_keeps_what_is_to_be_removed() -> None:
    assert merged_keeping({"a": {"b": 1}}, {"a": {"c": None}}) == {"a": {"b": 1, "c": None}}
    assert merged({"a": 1, "b": 2}, {"a": None}) == {"b": 2}
