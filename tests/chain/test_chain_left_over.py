"""What a description holds and nothing requires, and units whose torque-off inputs are bridged. Invented benches."""

import pytest
from chain_shapes import judged, not_passed, of, shape

from interlock.bench.bridged import is_bridged
from interlock.chain.left_over import left_over
from interlock.verdict import Verdict

OLD = "old_drive_behind_a_contactor"
SPARE = ("  drive: {kind", "  spare: {kind: plain_relay, name: spare relay}\n  drive: {kind")
COIL = ("  k1.reset: ", "  spare.coil: k1.out_a\n  k1.reset: ")


def told(name: str, *changes: tuple[str, str]) -> list[str]:
    return list(left_over(shape(name, *changes)))


@pytest.mark.parametrize("name", ["two_zones", "set_up_mode", "guard_locking", "two_hand_control", OLD])
def test_where_everything_has_its_part_nothing_is_told(name: str) -> None:
    assert told(name) == []


def test_a_relay_whose_contacts_nothing_reads_is_told_and_refuses_nothing() -> None:
    """That is how the bench may be built: it must be possible to say so."""
    assert told("single_contactor", ("  pump: {kind", SPARE[1].replace("drive: ", "pump: ")), COIL) == [
        "Nothing reads any output of the spare relay, and nothing is required of it: it has no part in this proof. "
        "Compare the wiring with the bench."
    ]
    assert (
        told(
            "single_contactor",
            ("  pump: {kind", SPARE[1].replace("drive: ", "pump: ")),
            COIL,
            ("k1.feedback: q1.mirror", "k1.feedback: q1.mirror and not spare.out_a"),
        )
        == []
    )


def test_a_stop_device_without_a_function_is_told_with_the_result() -> None:
    unnamed = (
        ("demand: estop", "demand: door"),
        ("takes the torque away\n      demand: door", "takes the torque away as well\n      demand: door"),
    )
    result = judged("single_contactor", *unnamed[:1])
    [one] = [one for one in result.assumptions if one.startswith("No function names")]
    assert one.startswith(
        "No function names the emergency stop, though a device of its kind can demand a stop"
    )


def test_a_mode_selector_and_a_reset_are_spoken_of() -> None:
    assert not [one for one in told("set_up_mode") if "key" in one or "reset" in one]


def test_an_old_drive_behind_a_contactor_passes_and_the_result_says_on_what_it_rests() -> None:
    result = judged(OLD)
    assert not_passed(result) == {}
    assert any(
        one.startswith("The torque-off inputs of the drive motor are bridged") for one in result.assumptions
    )


@pytest.mark.parametrize(
    ("change", "first"),
    [
        (("q1.coil: k1.out_a and k1.out_b", "q1.coil: k1.out_a and k1.out_b or q1.aux"), "torque_off"),
        (("drive.supply: q1.main", "drive.supply: always"), "torque_off"),
        (("drive.supply: q1.main", "drive.supply: not q1.mirror or reset.pressed"), "torque_off"),
        (("k1.reset: reset.pressed", "k1.reset: not reset.pressed"), "reset_acts_on_release"),
        (("drop_out: 40 ms", "drop_out: 140 ms"), "torque_off"),
    ],
)
def test_what_is_wrong_with_its_supply_is_found(change: tuple[str, str], first: str) -> None:
    """To count it as barred while it is not fed hides no way back to torque."""
    failed = [one.id for one in judged(OLD, change).properties if one.verdict is Verdict.FAIL]
    assert failed[0] == first


def test_only_a_unit_all_of_whose_inputs_are_bridged_counts_so() -> None:
    def bridged(*changes: tuple[str, str]) -> list[str]:
        bench = shape("three_doors", *changes)
        return [unit for unit in bench.required.effects.torque_off.of if is_bridged(bench, unit)]

    one, other = (
        ("drive.sto_a: k1.out_a", "drive.sto_a: always"),
        ("drive.sto_b: k1.out_b", "drive.sto_b: always"),
    )
    assert bridged() == bridged(one) == bridged(other) == []
    assert bridged(one, other) == ["drive"]


def test_bridged_inputs_before_a_steady_supply_fail_by_the_torque() -> None:
    both = ("drive.sto_a: k1.out_a", "drive.sto_a: always"), ("drive.sto_b: k1.out_b", "drive.sto_b: always")
    result = judged("three_doors", *both)
    assert of(result, "torque_off", "door_1_stop").verdict is Verdict.FAIL
    assert of(result, "stays_off", "door_1_stop").verdict is Verdict.FAIL


def test_a_unit_that_is_not_said_to_turn_the_shaft_is_told() -> None:
    """Its coasting is in no state of the model: a guard would count as freed at standstill while it turns."""
    assert told("guard_locking", ("shaft.driven: pump.torque", "shaft.driven: never")) == [
        "The torque of the drive motor does not stand in shaft.driven: in this proof it never turns the shaft, and "
        "neither standstill nor a lock waits for it. If it can turn it, name it there."
    ]


@pytest.mark.parametrize("name", ["guard_bolt", "lock_freed_on_request", "lock_freed_by_a_timer"])
def test_of_a_shaft_that_every_unit_turns_nothing_is_told(name: str) -> None:
    assert told(name) == []


def test_of_a_plain_shaft_nothing_is_told() -> None:
    assert told("stop_category_1") == []


TAKEN = "emergency_stop_by_supply"
LINK = (
    ("  drive: {kind", "  link: {kind: dc_bus, name: link, delays: {discharge: 1 s}}\n  drive: {kind"),
    ("  drive.supply: q1.main", "  link.feed: q1.main\n  drive.supply: link.live"),
)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        pytest.param((), [], id="both behind the contactor"),
        pytest.param(LINK, [], id="one behind a bus behind the contactor"),
        pytest.param((("load.supply: q1.main", "load.supply: always"),), ["load motor"], id="one past it"),
        pytest.param(
            (*LINK, ("link.feed: q1.main", "link.feed: always")),
            ["drive motor"],
            id="its bus past the contactor",
        ),
        pytest.param(
            (("load.supply: q1.main", "load.supply: q1.aux"),), ["load motor"], id="by another contact"
        ),
    ],
)
def test_a_unit_that_a_stop_of_the_supply_leaves_fed_is_told(
    changes: tuple[tuple[str, str], ...], expected: list[str]
) -> None:
    """The contactor of a stop may feed nothing: what the stop then proves is that a contactor opens."""
    said = [f"The {one} is not fed through the main contactor: " for one in expected]
    found = told(TAKEN, *changes)
    assert [one[: len(start)] for one, start in zip(found, said, strict=True)] == said


WATCHED = """
kinds:
  level_switch:
    text: level switch
    start: low
    states: {low: low, high: high}
    outputs: {a: low}
    transitions:
      - {act: fills, from: low, to: high, words: "the {name} sees the tank full"}
      - {act: drains, from: high, to: low, words: "the {name} sees the tank run low"}
"""
RUNS = (
    ("  drive: {kind", "  tank: {kind: level_switch, name: tank level}\n  drive: {kind"),
    ("  drive.supply: always", "  drive.supply: always\n  drive.run: tank.a"),
    ("\ndevices:", f"{WATCHED}\ndevices:"),
)


def test_what_a_motor_starts_by_other_than_a_button_is_told() -> None:
    """It may be a person who lets the tank run low, or nobody: the model cannot tell, and says so."""
    result = judged("three_doors", *RUNS)
    said = [one for one in result.assumptions if "counts as a start" in one and "tank level" in one]
    assert [one.split(":")[0] for one in said] == [
        "On this bench torque can begin by what is done to the tank level"
    ]
    assert not [one for one in judged("three_doors").assumptions if "what is done to" in one]


def test_with_a_demand_of_its_own_it_starts_nothing() -> None:
    demanding = (
        *RUNS[:2],
        (RUNS[2][0], RUNS[2][1].replace("    transitions", "    demand: not a\n    transitions")),
    )
    result = judged("three_doors", *demanding)
    assert ("start_by_person", None, "drive") in {
        (one.id, one.function, one.subject) for one in result.properties if one.verdict is Verdict.FAIL
    }
    assert not [one for one in result.assumptions if "what is done to" in one]
