"""`interlock replay` on logs of the built-in bench: verdict, exit code, cause, JSON."""

import json

import jsonschema

from interlock.replay import replay_schema

BENCH = "interlock/demo/bench.yaml"


def test_sound_log_exits_0(interlock, root, demo_log):
    said = interlock("replay", root / BENCH, demo_log, "--json")
    assert said.code == 0
    document = json.loads(said.out)
    jsonschema.validate(document, replay_schema())
    assert document["verdict"] == "pass"
    assert document["trace_start"].startswith("2027-01-15T08:00:00.")


def test_late_brake_exits_1_and_is_named(interlock, root, late_log):
    said = interlock("replay", root / BENCH, late_log)
    assert said.code == 1
    assert "The brake was without torque for good only" in said.out
    assert "local codes" in said.out


def test_all_lists_what_passed_too(interlock, root, demo_log):
    few, every = (interlock("replay", root / BENCH, demo_log, *args).out for args in ((), ("--all",)))
    assert "stayed off until the lawful reset" not in few
    assert "stayed off until the lawful reset" in every


def test_a_log_of_something_else_is_never_a_pass(interlock, root, tmp_path):
    log = tmp_path / "other.log"
    log.write_text("(1790000000.000470) can0 7FF#00\n(1790000000.100470) can0 7FF#01\n")
    said = interlock("replay", root / BENCH, log, "--json")
    assert said.code == 3
    assert json.loads(said.out)["verdict"] == "inconclusive"


def test_junk_is_bad_input(interlock, root, tmp_path):
    log = tmp_path / "junk.log"
    log.write_bytes(bytes(range(256)) * 20)
    said = interlock("replay", root / BENCH, log)
    assert said.code == 2
    assert "junk.log" in said.err
