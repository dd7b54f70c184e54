"""`interlock register`: each verb as its user meets it, each mistake one clear error, the exit codes of the design."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

from interlock.register.shown import shown_schema

DEMO = "interlock/demo/bench.yaml"
LATER = ("--made-at", "2027-02-01T08:00:00Z")  # the simulated logs are of 2027-01-15
COUNT = ("--operations", 900, "--load-breaks", 12, "--source", "counter of the controller")


@pytest.fixture
def register(interlock, tmp_path: Path) -> Path:
    path = tmp_path / "tests.jsonl"
    assert interlock("register", "new", path, "--made-at", "2026-01-01T08:00:00Z").code == 0
    return path


@pytest.fixture
def count(interlock, root, register):
    """Enters a count of the contactor."""

    def enter(since: str, until: str, *more: object):
        days = ("--since", since, "--until", until)
        return interlock(
            "register", "count", register, root / DEMO, "contactor", *days, *COUNT, *LATER, *more
        )

    return enter


def hash_of(text: str) -> str:
    (found,) = re.findall(r"hash of the last line ([0-9a-f]{64})", text)
    return found


# add


def test_a_sound_log_is_entered_with_its_verdict(interlock, root, register, demo_log):
    said = interlock(
        "register", "add", register, root / DEMO, demo_log, *LATER, "--by", "A. Tester", "--json"
    )
    assert said.code == 0
    document = json.loads(said.out)
    jsonschema.validate(document, shown_schema())
    (entry,) = document["entries"]
    content = entry["content"]
    assert (content["kind"], content["date"], content["verdict"], document["verdict"]) == (
        "proof_test",
        "2027-01-15",
        "pass",
        "pass",
    )
    assert set(content["functions"]) == {"hood_stop", "button_stop", "emergency_stop"}
    assert {one["verdict"] for one in content["functions"].values()} == {"pass"}
    times = [one for function in content["functions"].values() for one in function["timings"]]
    assert all(one["latency_ns"][0] <= one["latency_ns"][1] <= one["limit_ns"] for one in times)
    assert content["counts"]["demands"] == {"hood": 2, "stop_button": 2, "emergency": 1}
    assert content["counts"]["contactors"]["contactor"]["openings"] == 1
    assert entry["by"] == {"name": "A. Tester", "role": ""}
    assert str(demo_log.parent) not in register.read_text(
        encoding="utf-8"
    )  # the log's name and hash, not its place


def test_a_failed_test_is_kept_and_exits_as_one(interlock, root, register, late_log):
    said = interlock("register", "add", register, root / DEMO, late_log, *LATER)
    assert said.code == 1
    assert "proof test of 2027-01-15: fail" in said.out
    assert "local codes and licensed practice come first" in re.sub(r"\s+", " ", said.out)
    assert interlock("register", "verify", register).code == 0


def test_the_result_of_replay_is_entered_as_well_as_its_log(interlock, root, register, demo_log, tmp_path):
    result = tmp_path / "result.json"
    result.write_text(interlock("replay", root / DEMO, demo_log, "--json").out, encoding="utf-8")
    said = interlock("register", "add", register, root / DEMO, "--result", result, *LATER, "--json")
    by_result = json.loads(said.out)["entries"][0]["content"]
    other = tmp_path / "other.jsonl"
    interlock("register", "new", other, "--made-at", "2026-01-01T08:00:00Z")
    by_log = interlock("register", "add", other, root / DEMO, demo_log, *LATER, "--json")
    by_log = json.loads(by_log.out)["entries"][0]["content"]
    assert by_result["counts"] is None  # a result holds no counts
    assert {**by_result, "counts": by_log["counts"]} == by_log


def test_a_result_of_another_description_is_refused(interlock, root, register, demo_log, tmp_path):
    result = tmp_path / "result.json"
    text = interlock("replay", root / DEMO, demo_log, "--json").out
    found = json.loads(text)["bench"]["fingerprint"]
    result.write_text(text.replace(found, "0" * 64), encoding="utf-8")
    said = interlock("register", "add", register, root / DEMO, "--result", result, *LATER)
    assert (said.code, "judge the log anew" in said.err) == (2, True)


def test_the_same_run_is_entered_once(interlock, root, register, demo_log):
    assert interlock("register", "add", register, root / DEMO, demo_log, *LATER).code == 0
    said = interlock("register", "add", register, root / DEMO, demo_log, *LATER)
    assert (said.code, "one run is one test" in said.err) == (2, True)


def test_a_test_of_a_day_to_come_is_refused(interlock, root, register, demo_log):
    said = interlock("register", "add", register, root / DEMO, demo_log, "--made-at", "2026-12-01T08:00:00Z")
    assert (said.code, "still to come" in said.err) == (2, True)


@pytest.mark.parametrize("logs", [(), ("a.log", "--result", "r.json")])
def test_logs_or_a_result_not_both(interlock, root, register, logs):
    said = interlock("register", "add", register, root / DEMO, *logs)
    assert (said.code, "--result" in said.err) == (2, True)


# counts, replacements, changes, withdrawals


def test_each_further_verb_adds_one_line(interlock, root, register, count):
    bench = root / DEMO
    assert count("2026-01-01", "2026-06-01").code == 0
    for args in (
        ("replaced", register, bench, "contactor", "--date", "2026-06-01", "--part", "serial 7"),
        ("changed", register, bench, "--date", "2026-06-01", "--what", "rewired", "--device", "contactor"),
        ("withdraw", register, 1, "--reason", "misread", "--role", "tester", "--note", "see the log book"),
    ):
        assert interlock("register", *args, *LATER).code == 0
    said = interlock("register", "show", register)
    assert said.code == 0
    for words in (
        "1. cell_4: contactor from 2026-01-01 to 2026-06-01: 900 operations without load, 12 load breaks",
        "WITHDRAWN by entry 4",
        "contactor was replaced on 2026-06-01 by serial 7",
        "changed on 2026-06-01: rewired (contactor)",
        "entry 1 is withdrawn: misread",
        "by tester",
        "note: see the log book",
    ):
        assert words in said.out
    document = json.loads(interlock("register", "show", register, "--json").out)
    jsonschema.validate(document, shown_schema())
    assert document["withdrawn"] == [{"entry": 1, "by": 4, "reason": "misread"}]
    assert document["sha256"] == hash_of(said.out)


def test_days_are_not_counted_twice(count):
    assert count("2026-01-01", "2026-06-01").code == 0
    said = count("2026-05-01", "2026-07-01")
    assert (said.code, "would count days twice" in said.err) == (2, True)


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (
            ("contactor", "--since", "2026-06-01", "--until", "2026-01-01", *COUNT),
            "the second day must be later",
        ),
        (("contactor", "--since", "2026-13-01", "--until", "2026-06-01", *COUNT), "write it as 2026-01-31"),
        (("contactor", "--since", "20260101", "--until", "2026-06-01", *COUNT), "write it as 2026-01-31"),
        (("contactor", "--since", "2026-01-01", *COUNT), "--until"),
        (
            ("kontactor", "--since", "2026-01-01", "--until", "2026-06-01", *COUNT),
            "name one of hood, stop_button",
        ),
        (
            ("contactor", "--since", "2026-01-01", "--until", "2026-06-01", *COUNT[:1], -1, *COUNT[2:]),
            "greater than or equal to 0",
        ),
        (
            ("contactor", "--since", "2026-01-01", "--until", "2026-06-01", *COUNT[:2], *COUNT[4:]),
            "--load-breaks",
        ),
    ],
)
def test_a_wrong_count_is_one_clear_error(interlock, root, register, args, says):
    before = register.read_bytes()
    said = interlock("register", "count", register, root / DEMO, *args, *LATER)
    assert (said.code, says in re.sub(r"\s+", " ", said.err)) == (2, True)
    assert register.read_bytes() == before


def test_there_must_be_something_to_withdraw(interlock, register):
    said = interlock("register", "withdraw", register, 1, "--reason", "x", *LATER)
    assert (said.code, "there is no entry 1" in said.err) == (2, True)


# show, verify


def test_only_one_bench_is_shown(interlock, register, count):
    count("2026-01-01", "2026-06-01")
    assert "contactor from" in interlock("register", "show", register, "--bench", "cell_4").out
    said = interlock("register", "show", register, "--bench", "cell_5")
    assert (said.code, "benches in it: cell_4" in said.err) == (2, True)


def test_verify_tells_what_the_chain_cannot_show(interlock, register, count):
    said = count("2026-01-01", "2026-06-01")
    noted = hash_of(said.out)
    count("2026-06-01", "2026-07-01")
    verified = interlock("register", "verify", register)
    assert verified.code == 0
    assert "cannot show whether lines were cut off at its end" in verified.out
    assert interlock("register", "verify", register, "--noted", noted).code == 0
    lines = register.read_text(encoding="utf-8").splitlines(keepends=True)
    register.write_text("".join(lines[:-2]), encoding="utf-8")
    assert interlock("register", "verify", register).code == 0  # a whole chain, only shorter
    cut = interlock("register", "verify", register, "--noted", noted, "--json")
    assert cut.code == 1
    document = json.loads(cut.out)
    jsonschema.validate(document, shown_schema())
    assert "cut off or written anew" in " ".join(document["reasons"])


def test_a_changed_line_fails_verify_and_stops_every_other_verb(interlock, register, count):
    count("2026-01-01", "2026-06-01")
    register.write_text(register.read_text(encoding="utf-8").replace('"operations":900', '"operations":90'))
    said = interlock("register", "verify", register, "--json")
    assert said.code == 1
    document = json.loads(said.out)
    jsonschema.validate(document, shown_schema())
    assert (document["sha256"], document["count"]) == (None, None)
    assert f"{register}:2: changed" in document["reasons"][0]
    for answer in (interlock("register", "show", register), count("2026-06-01", "2026-07-01")):
        assert (answer.code, f"{register}:2: changed" in answer.err) == (2, True)


@pytest.mark.parametrize("noted", ["abc", "g" * 64, "0" * 63])
def test_what_is_no_hash_is_bad_usage(interlock, register, noted):
    said = interlock("register", "verify", register, "--noted", noted)
    assert (said.code, "is no hash of a register" in said.err) == (2, True)


@pytest.mark.parametrize("verb", ["show", "verify"])
def test_a_register_that_is_not_there_is_bad_input(interlock, tmp_path, verb):
    said = interlock("register", verb, tmp_path / "no.jsonl", "--json")
    assert said.code == 2
    assert "cannot read" in json.loads(said.out)["message"]


def test_no_register_is_made_over_another(interlock, register):
    said = interlock("register", "new", register)
    assert (said.code, "is not overwritten" in said.err) == (2, True)


def test_the_published_schema(interlock):
    schema = json.loads(interlock("register", "--schema").out)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema == shown_schema()


def test_a_verb_is_needed(interlock):
    said = interlock("register")
    assert (said.code, "new, add, count" in said.err) == (2, True)


# drift


def test_drift_needs_tests_and_says_so(interlock, root, register, demo_log):
    said = interlock("register", "drift", register)
    assert (said.code, "it holds no proof test" in said.err) == (2, True)
    interlock("register", "add", register, root / DEMO, demo_log, *LATER)
    said = interlock("register", "drift", register)
    assert (said.code, "0 earlier and" in said.out) == (3, True)
    assert "hood_stop, torque off (brake) on 2027-01-15: at most" in said.out
    document = json.loads(interlock("register", "drift", register, "--bench", "cell_4", "--json").out)
    assert (document["schema"], document["verdict"]) == ("interlock drift 1", "inconclusive")
    assert interlock("register", "drift", register, "--bench", "cell_5").code == 2
    assert interlock("register", "drift", register, "--allowed", "0").code == 2


def test_a_brake_that_became_slower_shows(interlock, root, register, demo_log, late_log):
    for log in (demo_log, late_log):
        interlock("register", "add", register, root / DEMO, log, *LATER)
    said = interlock("register", "drift", register, "--json")
    assert said.code == 1
    slower = {one["subject"] for one in json.loads(said.out)["items"] if one["verdict"] == "fail"}
    assert slower == {"brake"}
