"""A whole check: the sample passes, results say what they rest on, and nothing unproved is ever a pass."""

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from chain_benches import EXPECTED, SAMPLE, WRONG, checked, patched, sample, wrong
from chain_machines import MachineBench

from interlock.bench import load_bench
from interlock.chain import STATE_LIMIT, CheckResult, check, check_schema
from interlock.chain import layout as packing
from interlock.chain.ir import EventKind
from interlock.errors import BenchError
from interlock.verdict import Verdict

ROOM = Path(check.__code__.co_filename).parent


@pytest.fixture(scope="module")
def result() -> CheckResult:
    return check(sample())


def test_the_sample_passes_every_property(result: CheckResult) -> None:
    assert [one.sentence for one in result.properties if one.verdict is not Verdict.PASS] == []
    assert result.verdict is Verdict.PASS
    assert result.whole


def test_the_same_bench_gives_the_same_result(result: CheckResult) -> None:
    assert check(load_bench(SAMPLE)).as_json() == result.as_json()


def test_results_keep_to_the_published_schema(result: CheckResult) -> None:
    validator = jsonschema.Draft202012Validator(check_schema())
    validator.check_schema(check_schema())
    validator.validate(result.as_json())
    validator.validate(result.as_json("0" * 64))
    for name in sorted(EXPECTED)[::6]:
        validator.validate(json.loads(json.dumps(checked(name).as_json())))


def test_the_schema_refuses_what_is_no_result(result: CheckResult) -> None:
    validator = jsonschema.Draft202012Validator(check_schema())
    for change in ({"verdict": "fine"}, {"states": -1}, {"more": 1}, {"properties": [{}]}):
        assert not validator.is_valid({**result.as_json(), **change})


def test_a_fingerprint_is_named_if_given(result: CheckResult) -> None:
    assert "fingerprint" not in result.as_json()["bench"]
    assert result.as_json("ab" * 32)["bench"]["fingerprint"] == "ab" * 32


def test_each_premise_of_the_sample_can_be_walked(result: CheckResult) -> None:
    """The witness acts are real: the library's machines take each of them in turn."""
    machines = MachineBench(sample())
    start = machines.state
    every = [witness.acts or () for one in result.properties for witness in one.premise]
    told = {tuple(act.words for act in acts): acts for acts in every}
    assert len(told) > 10
    assert () not in told
    for acts in told.values():
        machines.put(start)
        for act in acts:
            prefix = "act_" if act.kind is EventKind.ACT else "late_"
            before, reached = machines.state, []
            for device, trigger in machines.possible():
                if device == act.device and trigger.startswith(prefix):
                    machines.put(before)
                    machines.fire(device, trigger)
                    reached.append(machines.state)
            assert act.after in reached, act.words
            machines.put(act.after)


def test_what_was_never_exercised_is_no_pass() -> None:
    """References that can never be set: zero after every stop, and yet nothing was shown."""
    found = check(patched(SAMPLE, {"wiring": {"references.zero": "always"}}))
    judged = {one.id: one for one in found.properties}
    assert judged["references_zero"].verdict is Verdict.NOT_OBSERVED
    assert judged["references_by_person"].verdict is Verdict.NOT_OBSERVED
    assert "Never put to the test" in judged["references_zero"].sentence
    assert found.verdict is Verdict.NOT_OBSERVED


def test_a_limit_that_is_hit_is_inconclusive_and_says_not_verified() -> None:
    found = check(sample(), limit=100)
    assert not found.whole
    assert {one.verdict for one in found.properties} == {Verdict.INCONCLUSIVE}
    assert all(one.sentence.startswith("Not verified") for one in found.properties)
    assert found.verdict is Verdict.INCONCLUSIVE
    jsonschema.validate(found.as_json(), check_schema())


@pytest.mark.parametrize("limit", [0, 1, 30, 300, 1000, 2500])
def test_no_limit_ever_makes_a_wrong_bench_pass(limit: int) -> None:
    for name in ("05_relay_ignores_emergency_off.yaml", "17_motor_resumes_with_supply.yaml"):
        assert check(wrong(name), limit=limit).verdict in {Verdict.FAIL, Verdict.INCONCLUSIVE}


@pytest.mark.parametrize("limit", [0, 1, 10, 100, 200, 305, 306, 500, 800])
def test_a_limit_never_lets_a_right_bench_fail(limit: int, result: CheckResult) -> None:
    found = check(sample(), limit=limit)
    assert found.verdict in {Verdict.INCONCLUSIVE, Verdict.PASS}
    assert found.whole is (found.verdict is Verdict.PASS)
    assert (found.verdict is Verdict.INCONCLUSIVE) or limit > result.states


def test_a_limit_between_states_and_memories_leaves_some_properties_open(result: CheckResult) -> None:
    found = check(sample(), limit=result.states)
    assert {one.verdict for one in found.properties} == {Verdict.PASS, Verdict.INCONCLUSIVE}
    assert found.states == result.states
    assert not found.whole


def test_a_bench_too_wide_for_the_words_is_inconclusive(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packing, "_USED", 5)
    found = check(sample())
    assert {one.verdict for one in found.properties} == {Verdict.INCONCLUSIVE}
    assert "bits" in found.properties[0].sentence
    jsonschema.validate(found.as_json(), check_schema())


def test_the_sample_is_well_below_the_limit(result: CheckResult) -> None:
    assert result.states < STATE_LIMIT / 100


def test_a_loop_without_a_delay_is_refused_at_its_place(tmp_path: Path) -> None:
    file = tmp_path / "loop.yaml"
    text = (WRONG / "01_latch_not_sealed.yaml").read_text("utf-8")
    file.write_text(text.replace("k1.coil: hood.a", "k1.coil: not k1.out_a and hood.a"), "utf-8")
    with pytest.raises(BenchError) as caught:
        check(load_bench(file), file=file)
    line = next(at for at, one in enumerate(file.read_text("utf-8").splitlines(), 1) if "k1.coil" in one)
    assert f"{file}:{line}:3: 'k1.coil'" in str(caught.value)
    assert "contact multiplier" in str(caught.value)
    assert "without a delay" in str(caught.value)


def test_a_loop_is_refused_without_a_file_too() -> None:
    with pytest.raises(BenchError, match="sample"):
        check(
            patched(SAMPLE, {"wiring": {"drive.run": "not drive.torque", "drive.sto_a": "not drive.enabled"}})
        )


def test_assumptions_are_stated_where_they_make_a_difference(result: CheckResult) -> None:
    told = " ".join(result.assumptions)
    assert "Nobody holds the supply-on button" in told
    assert "ISO/TR 24119" in told
    assert "no clock" in told
    assert "faults are not judged" in told


def test_an_assumption_that_could_not_be_ruled_out_is_stated() -> None:
    small = patched(WRONG / "01_latch_not_sealed.yaml", EXPECTED["01_latch_not_sealed.yaml"]["mend"])
    assert len(check(small, limit=5).assumptions) >= len(check(small).assumptions)
    told = " ".join(check(sample(), limit=5).assumptions)
    assert "Nobody holds the supply-on button" in told


def test_assumptions_are_not_stated_where_they_make_none() -> None:
    small = patched(WRONG / "01_latch_not_sealed.yaml", EXPECTED["01_latch_not_sealed.yaml"]["mend"])
    assert "Nobody holds" not in " ".join(check(small).assumptions)
    wiring = {
        "contactor.coil": "estop.c and (supply_on.pressed or contactor.aux) and not (estop.actuated or never)"
    }
    assert "Nobody holds" in " ".join(check(patched(SAMPLE, {"wiring": wiring})).assumptions)


def test_a_bench_of_one_stop_device_masks_nothing() -> None:
    only = {
        "wiring": {
            "k1.channel_a": "hood.a",
            "k1.channel_b": "hood.b",
            "k1.reset": "acknowledge.pressed",
            "k1.coil": None,
        },
        "devices": {"k1": {"kind": "safety_relay"}, "halt": None},
        "required": {"functions": {"halt_stop": None}},
    }
    found = check(patched(WRONG / "01_latch_not_sealed.yaml", only))
    assert found.verdict is Verdict.PASS
    assert "24119" not in " ".join(found.assumptions)


def test_three_doors_in_series_pass() -> None:
    """Switches in series are common practice; what they mask is stated, not failed (ISO/TR 24119)."""
    door = {"kind": "guard_switch"}
    function = {
        "stop_category": 0,
        "effects": ["torque_off"],
        "channels": {"within": "50 ms", "source": "invented"},
        "source": "invented",
    }
    series = {
        "devices": {
            "k1": {"kind": "safety_relay"},
            "door": {**door, "name": "door"},
            "hatch": {**door, "name": "hatch"},
        },
        "wiring": {
            "k1.coil": None,
            "k1.channel_a": "hood.a and door.a and hatch.a and halt.a",
            "k1.channel_b": "hood.b and door.b and hatch.b and halt.b",
            "k1.reset": "acknowledge.pressed",
        },
        "required": {
            "functions": {
                "door_stop": {**function, "title": "the door opens", "demand": "door"},
                "hatch_stop": {**function, "title": "the hatch opens", "demand": "hatch"},
            }
        },
    }
    found = check(patched(WRONG / "01_latch_not_sealed.yaml", series))
    assert [one.sentence for one in found.properties if one.verdict is not Verdict.PASS] == []
    assert sum("24119" in assumption for assumption in found.assumptions) == 3


def test_the_room_imports_only_rooms_above_it() -> None:
    code = (
        "import sys, interlock.chain; "
        "print(*sorted({name.split('.')[1] for name in sys.modules if name.startswith('interlock.')}))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert set(found.stdout.split()) <= {"bench", "chain", "errors", "verdict", "interval"}


def test_no_module_of_the_room_speaks_of_logs_or_reports() -> None:
    rooms = ("trace", "timing", "replay", "rating", "procedure", "evidence", "twin", "demo", "web", "cli")
    for file in ROOM.glob("*.py"):
        text = file.read_text("utf-8")
        assert not [room for room in rooms if f"interlock.{room}" in text], file.name
