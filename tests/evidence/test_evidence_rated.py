"""A bench rated: a category stands only where the structure carries it, limits of the bus come from the bench."""

import shutil
from pathlib import Path

import pytest
from evidence_rating import BRIDGED, DAY, FUNCTIONS, SHOWN, result_of

from interlock.bench import load_bench
from interlock.demo.walk import BENCH_FILE
from interlock.errors import BenchError
from interlock.evidence.gather import gather_rating
from interlock.evidence.rated import bus_requirement, rated
from interlock.verdict import Verdict


def level_of(result, name):
    (function,) = (one for one in result.functions if one.name == name)
    (level,) = (one for one in function.judgements if one.about == "performance level")
    return function, level


@pytest.fixture
def changed(tmp_path: Path):
    """Writes the built-in bench with one text replaced, and gives its path."""

    def write(old: str, new: str) -> Path:
        text = BENCH_FILE.read_text(encoding="utf-8")
        assert old in text
        shutil.copyfile(BENCH_FILE.with_name("bench.dbc"), tmp_path / "bench.dbc")
        (tmp_path / "bench.yaml").write_text(text.replace(old, new), encoding="utf-8")
        return tmp_path / "bench.yaml"

    return write


def test_shown_structure_carries_the_claims() -> None:
    result = result_of(SHOWN)
    for name in FUNCTIONS:
        function, level = level_of(result, name)
        assert (level.verdict, function.pl) == (Verdict.PASS, "d")


def test_not_shown_is_never_a_pass() -> None:
    result = result_of(None)
    assert {level_of(result, name)[1].verdict for name in FUNCTIONS} == {Verdict.INCONCLUSIVE}
    assert result.verdict is not Verdict.PASS


def test_a_function_that_nobody_examined_is_not_shown_though_the_others_are() -> None:
    few = {"hood_stop": SHOWN["hood_stop"]}
    assert level_of(result_of(few), "hood_stop")[1].verdict is Verdict.PASS
    assert level_of(result_of(few), "button_stop")[1].verdict is Verdict.INCONCLUSIVE


def test_one_channel_refuses_category_3_with_the_reason() -> None:
    function, level = level_of(result_of(BRIDGED), "button_stop")
    assert (function.pl, function.sil, function.pfhd_per_h) == (None, None, None)
    assert level.verdict is Verdict.FAIL
    assert (
        "the structure as wired supports only category B or 1; category 3 asks that a single fault"
        in level.sentence
    )
    assert level_of(result_of(BRIDGED), "hood_stop")[0].pl == "d"


def test_a_structure_that_carries_nothing_refuses_everything() -> None:
    result = result_of(dict.fromkeys(FUNCTIONS, ()))
    assert {level_of(result, name)[0].pl for name in FUNCTIONS} == {None}
    assert "supports no category" in level_of(result, "hood_stop")[1].sentence


# the structure as the search under faults finds it


def found(path: Path):
    return rated(path, load_bench(path), None, today=DAY)[0]


def test_the_built_in_bench_carries_its_claims_and_says_on_which_exclusions() -> None:
    result = found(BENCH_FILE)
    assert {level_of(result, name)[1].verdict for name in FUNCTIONS} == {Verdict.PASS}
    assert sum("examined without this fault" in text for text in result.cautions) == 3
    assert any("ISO 13849-2:2012, Table D.8" in text for text in result.cautions)


def test_a_relay_with_one_channel_refuses_category_3(changed) -> None:
    """Both channels from the same contacts: one contact that stays closed loses the function (6.2.6)."""
    one = "relay.channel_b: hood.a and stop_button.a and emergency.a"
    result = found(changed("relay.channel_b: hood.b and stop_button.b and emergency.b", one))
    for name in FUNCTIONS:
        function, level = level_of(result, name)
        assert (function.pl, level.verdict) == (None, Verdict.FAIL)
        assert "the structure as wired supports only category B or 1" in level.sentence


def test_a_switch_that_may_come_off_refuses_category_3(changed) -> None:
    excluded = "  - fault: hood.does_not_follow\n"
    text = BENCH_FILE.read_text(encoding="utf-8")
    entry = text[text.index(excluded) : text.index("  - fault: stop_button.contacts_come_off")]
    result = found(changed(entry, ""))
    assert level_of(result, "hood_stop")[0].pl is None
    assert level_of(result, "button_stop")[0].pl == "d"


def test_category_4_is_held_against_two_faults(changed) -> None:
    claim = "          category: {}\n          channels: [[hood_switch_a]"
    result = found(changed(claim.format(3), claim.format(4)))
    function, _ = level_of(result, "hood_stop")
    assert function.pl is None
    assert any("category 4" in why for one in function.subsystems for why in one.refused_because)


def test_beside_a_subsystem_of_one_channel_each_other_one_answers_for_its_own_faults(root: Path) -> None:
    """The sample bench's drives claim category B, so the whole carries no more. Its relay stands alone as category 3;
    its cover switch, which may come off the cover and is not excluded, does not (ISO 13849-1:2015, 6.3)."""
    result = found(root / "tests/benches/sample/bench.yaml")
    function, level = level_of(result, "cover_stop")
    assert [one.structure_proven for one in function.subsystems] == [True, True, True]
    assert [one.pl for one in function.subsystems] == [None, "e", "a"]
    assert ["category 3 asks" in why for one in function.subsystems for why in one.refused_because] == [True]
    assert level.verdict is Verdict.FAIL


SINGLE = """
exclusions:
  - {fault: door.does_not_follow, reason: riveted, source: own drawing}
rating:
  edition: 2015
  parts:
    door_a:
      {source: s, b10d: 2000000, dc: 0.99, dc_measure: cross_monitoring_complete, operations: {per_year: 99, source: s}}
    door_b:
      {source: s, b10d: 2000000, dc: 0.99, dc_measure: cross_monitoring_complete, operations: {per_year: 99, source: s}}
    q1_part: {source: s, b10d: 1300000, operations: {per_year: 2000, source: s}}
  functions:
    door_stop:
      required: {pl: c}
      proof_test_months: 12
      not_rated: {pump: a motor without current makes no torque}
      subsystems:
        contacts:
          devices: [door]
          category: 3
          channels: [[door_a], [door_b]]
          ccf: [separation, overload_protection, well_tried_components, contamination_and_emc, other_influences]
        relay: {devices: [k1], pl: e, pfhd_per_h: 2.3e-9, source: data sheet}
        power: {devices: [q1], category: 1, channels: [[q1_part]]}
"""
TWO_CONTACTS = {
    "kind: guard_switch_single": "kind: guard_switch",
    "k1.channel_b: door.a and": "k1.channel_b: door.b and",
}


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [(TWO_CONTACTS, Verdict.PASS), ({}, Verdict.FAIL)],
    ids=["two contacts", "one contact"],
)
def test_a_bench_with_a_single_contactor_can_be_rated(root: Path, tmp_path: Path, changes, verdict) -> None:
    """Contacts of category 3, contactor of category 1: PL c by the weakest (ISO 13849-1:2015, 6.3). With one contact
    for both channels of the relay the claim of category 3 is refused."""
    text = (root / "tests/benches/shapes/single_contactor.yaml").read_text("utf-8")
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    file = tmp_path / "bench.yaml"
    file.write_text(text + SINGLE, "utf-8")
    function, level = level_of(found(file), "door_stop")
    assert level.verdict is verdict, level.sentence
    assert function.pl == ("c" if verdict is Verdict.PASS else None)


def test_without_effects_named_every_one_counts(changed) -> None:
    """The references have one channel only: as a whole the function carries no category 3."""
    result = found(changed("    hood_stop:\n      effects: [torque_off]\n", "    hood_stop:\n"))
    assert level_of(result, "hood_stop")[0].pl is None


def test_what_is_not_rated_is_said() -> None:
    function, _ = level_of(found(BENCH_FILE), "emergency_stop")
    assert function.cautions[0] == (
        "The level is of torque off alone; whatever else the bench requires of this function is not rated."
    )


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("    hood_stop:\n      effects", "    hood_halt:\n      effects", "requires no such function"),
        (
            "    hood_stop:\n      effects: [torque_off]",
            "    hood_stop:\n      effects: [bus_discharged]",
            "not required",
        ),
        (
            "    hood_stop:\n      effects: [torque_off]",
            "    hood_stop:\n      effects: [magic]",
            "not required",
        ),
    ],
)
def test_functions_and_effects_must_be_those_of_the_bench(changed, old, new, says) -> None:
    path = changed(old, new)
    with pytest.raises(BenchError) as error:
        found(path)
    (problem,) = error.value.problems
    assert says in problem.why
    word = new.split("[")[1][:-1] if "[" in new else "hood_halt"
    assert word in path.read_text().splitlines()[problem.line - 1]


# the bus


def test_the_limit_of_the_bus_counts_from_the_contactor() -> None:
    required = bus_requirement(load_bench(BENCH_FILE))
    assert (required.within_s, required.at_most_v) == (4.0, 60.0)
    assert (required.top_speed_rpm, required.rated_bus_v) == (3000.0, 320.0)


def test_counted_from_the_demand_the_contactors_time_is_taken_off(changed) -> None:
    required = bus_requirement(load_bench(changed("after: contactor_open", "after: demand")))
    assert required.within_s == pytest.approx(4.0 - 0.12)


def test_a_bench_that_asks_for_less_time_than_its_bus_takes_fails(changed) -> None:
    path = changed("at_most: 60 V, within: 4 s", "at_most: 60 V, within: 1500 ms")
    assert {one.name: one.verdict for one in result_of(SHOWN, path).others}[
        "discharge of the DC bus"
    ] is Verdict.FAIL


def test_gathered_alone_it_holds_the_rating_and_the_inputs_and_no_proof() -> None:
    result, material = gather_rating(BENCH_FILE, [], today=DAY)
    assert material.check is None
    assert material.replay is None
    assert material.rating is not None
    assert material.rating["verdict"] == str(result.verdict)
    assert [item["role"] for item in material.inputs] == ["bench description", "messages of the log (DBC)"]
