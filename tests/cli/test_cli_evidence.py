"""`report`, `sign`, `verify`: a report is written, signed, held to, and refused once changed."""

import json

import jsonschema
import pytest

from interlock.evidence import verification_schema

TIME = "2026-03-04T05:06:07Z"


@pytest.fixture
def report(interlock, root, demo_log, tmp_path):
    """A demo report that is not signed yet."""
    out = tmp_path / "report.pdf"
    said = interlock(
        "report", root / "interlock/demo/bench.yaml", demo_log, "--out", out, "--demo", "--made-at", TIME
    )
    assert said.code == 0, said
    return out


def test_report_is_the_same_to_the_byte(interlock, root, demo_log, report, tmp_path):
    again = tmp_path / "again.pdf"
    bench = root / "interlock/demo/bench.yaml"
    interlock("report", bench, demo_log, "--out", again, "--demo", "--made-at", TIME)
    assert again.read_bytes() == report.read_bytes()


def test_report_of_a_failing_log_exits_1_and_is_written(interlock, root, late_log, tmp_path):
    out = tmp_path / "late.pdf"
    said = interlock("report", root / "interlock/demo/bench.yaml", late_log, "--out", out, "--json")
    assert said.code == 1
    assert json.loads(said.out)["verdict"] == "fail"
    assert out.read_bytes().startswith(b"%PDF")


def test_signed_by_two_and_verified(interlock, report):
    for role in ("tester", "safety_officer"):
        said = interlock("sign", report, "--role", role, "--demo-key", f"The {role}", "--json")
        assert said.code == 0, said
        assert json.loads(said.out)["is_demo"] is True
    said = interlock("verify", report, "--json")
    assert said.code == 0
    document = json.loads(said.out)
    jsonschema.validate(document, verification_schema())
    assert [one["role"] for one in document["signers"]] == ["tester", "safety_officer"]


def test_people_are_told_that_a_demo_key_proves_no_identity(interlock, report):
    said = interlock("sign", report, "--role", "tester", "--demo-key", "T")
    assert "not who signed" in said.out
    said = interlock("verify", report)
    assert "DEMO KEY" in said.out
    assert "pass" in said.out


def test_a_changed_byte_exits_1(interlock, report):
    interlock("sign", report, "--role", "tester", "--demo-key", "T")
    data = bytearray(report.read_bytes())
    data[2000] ^= 4
    report.write_bytes(bytes(data))
    assert interlock("verify", report).code == 1


def test_an_unsigned_report_does_not_verify(interlock, report):
    assert interlock("verify", report).code == 1


def test_a_demo_key_refuses_a_report_that_is_not_marked(interlock, root, demo_log, tmp_path):
    out = tmp_path / "real.pdf"
    assert interlock("report", root / "interlock/demo/bench.yaml", demo_log, "--out", out).code == 0
    said = interlock("sign", out, "--role", "tester", "--demo-key", "T")
    assert said.code == 2
    assert "demo" in said.err


@pytest.mark.parametrize("time", ["yesterday", "2026-03-04T05:06:07"])
def test_times_need_a_zone(interlock, root, demo_log, tmp_path, time):
    out = tmp_path / "x.pdf"
    bench = root / "interlock/demo/bench.yaml"
    said = interlock("report", bench, demo_log, "--out", out, "--made-at", time)
    assert said.code == 2
    assert "2026-01-31T14:05:00Z" in said.err
    assert not out.exists()


def test_passphrase_comes_from_one_place(interlock, report, tmp_path):
    args = ("sign", report, "--role", "tester", "--key", tmp_path / "k.p12")
    said = interlock(*args, "--passphrase-file", tmp_path / "none", "--passphrase-env", "X")
    assert (said.code, "not both" in said.err) == (2, True)
    said = interlock(*args, "--passphrase-env", "INTERLOCK_NO_SUCH_VARIABLE")
    assert (said.code, "INTERLOCK_NO_SUCH_VARIABLE" in said.err) == (2, True)
    said = interlock(*args, "--passphrase-file", tmp_path / "none")
    assert (said.code, "none" in said.err) == (2, True)
    said = interlock("sign", report, "--role", "tester", "--demo-key", "T", "--passphrase-env", "X")
    assert (said.code, "leave it out with --demo-key" in said.err) == (2, True)


def test_a_signed_report_is_not_overwritten_by_a_new_one(interlock, root, demo_log, report):
    interlock("sign", report, "--role", "tester", "--demo-key", "T")
    signed = report.read_bytes()
    said = interlock("report", root / "interlock/demo/bench.yaml", demo_log, "--out", report, "--demo")
    assert (said.code, "signed document stands there" in said.err) == (2, True)
    assert report.read_bytes() == signed


def test_no_verb_writes_over_what_it_reads(interlock, root, demo_log, tmp_path):
    """A slip of the hand would cost the log, the bench description or the register of past tests."""
    for name in ("bench.yaml", "bench.dbc"):
        (tmp_path / name).write_bytes((root / "interlock/demo" / name).read_bytes())
    bench, log, book = tmp_path / "bench.yaml", tmp_path / "run.log", tmp_path / "tests.jsonl"
    log.write_bytes(demo_log.read_bytes())
    interlock("register", "new", book)
    before = {path: path.read_bytes() for path in (bench, log, book)}
    for arguments in (
        ("report", bench, log, "--out", bench),
        ("report", bench, log, "--out", tmp_path / "." / "run.log"),
        ("report", bench, log, "--out", book, "--register", book),
        ("rate", bench, "--out", bench),
        ("due", book, bench, "--calendar", book),
    ):
        said = interlock(*arguments)
        assert (said.code, "would be overwritten" in said.err) == (2, True), arguments
    assert {path: path.read_bytes() for path in before} == before
