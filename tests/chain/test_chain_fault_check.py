"""The check with faults as its users call it: numbers of faults, verdict, exclusions, schema, limits, sentences."""

import json

import jsonschema
import pytest
from chain_benches import sample
from chain_fault_benches import SMALL, only, sample_with, small, without
from chain_fault_benches import checked_sample as checked
from chain_fault_naive import FaultyWorld, every_fault

from interlock.bench import Bench
from interlock.chain import CheckResult, FaultResult, check, check_schema, judge_faults
from interlock.chain.ir import EventKind
from interlock.verdict import Verdict

MECHANICAL = ("cover.does_not_follow", "button.contacts_come_off", "estop.contacts_come_off")


def single(result: CheckResult, fault: str) -> FaultResult:
    assert result.report is not None
    [one] = [one for one in result.report.faults if one.set == (fault,)]
    return one


@pytest.mark.parametrize("faults", [0, 1, 2])
def test_the_document_meets_its_schema_and_has_the_fixed_keys(faults: int) -> None:
    document = json.loads(json.dumps(checked(faults).as_json()))
    jsonschema.validate(document, check_schema())
    assert (document["fault_search"] is None) is (faults == 0)
    for one in document["faults"]:
        assert {"set", "lost", "detected", "at"} <= one.keys()


@pytest.mark.parametrize("faults", [-1, 4])
def test_other_numbers_of_faults_are_refused(faults: int) -> None:
    with pytest.raises(ValueError, match=f"{faults} faults at a time: from 0 to 3 can be judged"):
        check(small(), faults=faults)


def test_without_faults_nothing_is_said_of_them() -> None:
    result = checked(0)
    assert result.report is None
    assert "faults are not judged here" in result.assumptions[0]


def test_with_faults_the_assumption_says_which() -> None:
    assert "at most 2 faults at a time" in checked(2).assumptions[0]
    assert "at most one fault at a time" in checked(1).assumptions[0]


def test_the_table_of_faults_does_not_change_the_verdict() -> None:
    assert any(one.lost for one in checked(1).report.faults)
    assert checked(1).verdict is checked(0).verdict is Verdict.PASS
    sound = checked(0).properties
    assert checked(1).properties[: len(sound)] == sound


TOLERANT = {"required": {"functions": {"cover_stop": {"single_fault_tolerant": True}}}}


def test_a_function_that_must_tolerate_a_fault_and_does_not_fails() -> None:
    result = check(sample_with(TOLERANT), faults=1)
    [one] = [one for one in result.properties if one.id == "single_fault_tolerant"]
    assert (one.function, one.verdict, result.verdict) == ("cover_stop", Verdict.FAIL, Verdict.FAIL)
    assert one.sentence.startswith(
        "A single fault loses it: references"
    )  # one step less than the cover's switch
    assert one.acts


def test_a_function_that_must_tolerate_a_fault_is_judged_unasked() -> None:
    assert check(sample_with(TOLERANT)).verdict is Verdict.FAIL


def test_who_asks_for_no_faults_gets_no_pass_of_what_must_withstand_them() -> None:
    assert check(sample_with(TOLERANT), faults=0).verdict is Verdict.NOT_OBSERVED


def test_a_function_that_tolerates_every_fault_passes() -> None:
    bench = without(sample_with(TOLERANT), "cover.does_not_follow", "references.zeroing_lost")
    result = check(bench, faults=1)
    assert result.verdict is Verdict.PASS


def test_exclusions_are_printed_whether_or_not_faults_are_judged() -> None:
    bench = without(sample(), *MECHANICAL)
    for faults in (0, 1):
        result = check(bench, faults=faults)
        assert [one.fault for one in result.exclusions] == list(MECHANICAL)
        assert [one["reason"] for one in result.as_json()["exclusions"]] == ["invented"] * 3


def test_an_excluded_fault_is_not_judged() -> None:
    report = judge_faults(without(sample(), *MECHANICAL), 1)
    assert not {fault for one in report.faults for fault in one.set} & set(MECHANICAL)


def test_alike_faults_are_all_told() -> None:
    """A dead torque-off input and a short of its wire do the same."""
    one, other = (
        single(checked(1), f"drive.{fault}") for fault in ("sto_a_dead", "wire_sto_a_short_to_supply")
    )
    assert (one.lost, one.detected, one.at) == (other.lost, other.detected, other.at)
    assert one.words != other.words


def test_too_little_memory_is_not_verified_and_never_a_pass() -> None:
    bench = sample_with(TOLERANT)
    report = judge_faults(bench, 2, most_bytes=1 << 18)
    assert not report.search.whole
    assert report.search.sentence.startswith("Not verified: the search takes more than 0 MiB of memory")
    for one in report.faults:
        assert one.lost or one.restarts or not one.verified or "Nothing on this bench" in one.sentence
    assert all(not {"3", "4"} & set(one.categories) for one in report.categories)


def test_a_state_too_wide_to_pack_is_not_verified() -> None:
    many = {f"relay{number}": {"kind": "safety_relay", "name": f"relay {number}"} for number in range(45)}
    wiring = {f"{name}.{needed}": "stop.a" for name in many for needed in ("channel_a", "channel_b", "reset")}
    report = judge_faults(small(devices=many, wiring=wiring), 1)
    assert not report.search.whole
    assert all(not one.verified and one.sentence.startswith("Not verified: ") for one in report.faults)


BUZZER = {
    "text": "relay that is fed by its own opening contact while its link is missing",
    "inputs": {"coil": None, "link": None},
    "start": "off",
    "states": {"off": "off", "on": "on"},
    "outputs": {"out": "on"},
    "transitions": [
        {"when": "coil and not link", "from": "off", "to": "on"},
        {"when": "not coil or link", "from": "on", "to": "off"},
    ],
    "faults": {
        "link_lost": {"text": "the link is missing", "source": "invented", "inputs": {"link": "never"}}
    },
}


def test_devices_that_never_rest_under_a_fault_are_not_verified() -> None:
    data = {
        **SMALL,
        "kinds": {"buzzer": BUZZER},
        "devices": {**SMALL["devices"], "buzz": {"kind": "buzzer", "name": "buzzer"}},
        "wiring": {**SMALL["wiring"], "buzz.coil": "not buzz.out and stop.a", "buzz.link": "always"},
    }
    report = judge_faults(Bench.model_validate(data), 1)
    [one] = [one for one in report.faults if one.set == ("buzz.link_lost",)]
    assert not one.verified
    assert one.sentence.startswith("Not verified: with it, devices keep changing each other")
    assert all("3" not in each.categories for each in report.categories)


def test_every_way_can_be_walked_with_the_faults_in_the_devices() -> None:
    """Each act is possible in the world with the faults that are there by then, and leads where it says."""
    bench = only(
        sample(), "cover.does_not_follow", "contactor.welds", "references.zeroing_lost", "drive.start_stays_on",
        "drive.sto_a_dead", "drive.sto_b_dead", "estop.c_stays_closed",
    )  # fmt: skip
    told = [one for one in judge_faults(bench, 2).faults if one.acts]
    assert {len(one.set) for one in told} == {1, 2}
    for one in told:
        walk(bench, one)


def walk(bench: Bench, one: FaultResult) -> None:
    faults, words = every_fault(bench), dict(zip(one.words, one.set, strict=True))
    from_start = [act for act in one.acts if act.words.startswith("from power-up on: ")]
    present = frozenset(words[act.words.partition(": ")[2]] for act in from_start)
    state = FaultyWorld(bench, faults, present).start
    for act in one.acts[len(from_start) :]:
        world = FaultyWorld(bench, faults, present)
        after = tuple(act.after[name] for name in world.names)
        if act.kind is EventKind.FAULT:
            present |= {words[act.words.partition(": ")[2]]}
            assert FaultyWorld(bench, faults, present).settle(state) == after
        else:
            assert after in [move.after for move in world.moves(state) if move.device == act.device]
        state = after
    assert present == set(one.set)


def test_sentences_are_whole() -> None:
    for one in checked(2).report.faults:
        assert one.sentence.endswith(".")
        assert "{" not in one.sentence
        assert all(act.words and "{" not in act.words for act in one.acts)


def test_a_hidden_fault_is_told_with_what_it_adds_up_to() -> None:
    [dead] = [one for one in checked(2).report.faults if one.set == ("drive.sto_a_dead",)]
    assert dead.sentence.startswith(
        "It loses no function. No stop is sure to reveal it. Together with each of "
    )


def test_no_sentence_claims_a_performance_level() -> None:
    for one in checked(2).report.categories:
        assert any("Structure alone is no performance level" in said for said in one.sentences)


def test_two_late_reactions_in_a_row_may_end_a_loss() -> None:
    """Two contactors in a row, each in time: that torque lasts until both have dropped out is no loss."""
    delays = {"pick_up": "20 ms", "drop_out": "20 ms"}
    row = {name: {"kind": "contactor", "name": name, "delays": delays} for name in ("q1", "q2")}
    wiring = {
        "q1.coil": "relay.out_a",
        "q2.coil": "q1.main",
        "unit.sto_a": "q2.main",
        "unit.sto_b": "q2.main",
    }
    report = judge_faults(small(devices=row, wiring=wiring), 1)
    lost = {one.set[0] for one in report.faults if one.lost}
    assert "reset.stays_open" not in lost
    assert {"q1.welds", "q2.welds", "relay.out_a_welds"} <= lost
