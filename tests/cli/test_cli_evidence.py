"""`report`, `sign`, `verify`: a report is written, signed, held to, and refused once changed."""

import json
import shutil
from pathlib import Path

import jsonschema
import pytest

from interlock.evidence.verification import verification_schema

TIME = "2026-03-04T05:06:07Z"


@pytest.fixture
def report(interlock, root, demo_log, tmp_path, tmp_path_factory):
    """A demo report that is not signed yet: a copy of one that is made once."""
    made, bench = tmp_path_factory.getbasetemp() / "unsigned.pdf", root / "interlock/demo/bench.yaml"
    if not made.exists():
        said = interlock("report", bench, demo_log, "--out", made, "--demo", "--made-at", TIME)
        assert said.code == 0, said
    return Path(shutil.copy(made, tmp_path / "report.pdf"))


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


def test_a_signature_does_not_overwrite_another_signed_report(interlock, report, tmp_path):
    signed, other = tmp_path / "signed.pdf", tmp_path / "other.pdf"
    other.write_bytes(report.read_bytes())
    interlock("sign", report, "--out", signed, "--role", "tester", "--demo-key", "T")
    before = signed.read_bytes()
    said = interlock("sign", other, "--out", signed, "--role", "tester", "--demo-key", "U")
    assert (said.code, "another signed document stands there and is not overwritten" in said.err) == (2, True)
    assert signed.read_bytes() == before


OVER_ITS_INPUT = [
    "report bench.yaml run.log --out bench.yaml",
    "report bench.yaml run.log --out ./run.log",
    "report bench.yaml run.log --out bench.dbc",
    "report bench.yaml run.log scope=wave.csv --out wave.csv",
    "report bench.yaml run.log --out tests.jsonl --register tests.jsonl",
    "rate bench.yaml --out bench.yaml",
    "rate bench.yaml --out bench.dbc",
    "rate bench.yaml --trace scope=wave.csv --out wave.csv",
    "due tests.jsonl bench.yaml --calendar tests.jsonl",
    "due tests.jsonl bench.yaml --calendar bench.dbc",
    "plan bench.yaml --out bench.yaml --force",
    "plan bench.yaml --sheet bench.dbc --force",
    "plan bench.yaml --procedure test.yaml --sheet test.yaml --force",
    "sign report.pdf --role tester --key me.p12 --passphrase-file word.txt --out me.p12",
    "sign report.pdf --role tester --key me.p12 --passphrase-file word.txt --out word.txt",
]


@pytest.fixture
def desk(root, demo_log, tmp_path, monkeypatch):
    """A folder with all that a person works with, in which they stand."""
    for name in ("bench.yaml", "bench.dbc"):
        shutil.copy(root / "interlock/demo" / name, tmp_path)
    shutil.copy(demo_log, tmp_path / "run.log")
    shutil.copy(root / "procedures/periodic_proof_test.yaml", tmp_path / "test.yaml")
    for name in ("wave.csv", "tests.jsonl", "me.p12", "word.txt", "report.pdf"):
        (tmp_path / name).write_text(f"what {name} holds\n")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("line", OVER_ITS_INPUT)
def test_no_verb_writes_over_what_it_reads(interlock, desk, line):
    """A slip of the hand would cost the log, the bench description, its DBC, the key or the register."""
    before = {path: path.read_bytes() for path in desk.iterdir()}
    said = interlock(*line.split())
    assert (said.code, "would be overwritten" in said.err) == (2, True), said
    assert {path: path.read_bytes() for path in desk.iterdir()} == before


def test_two_outputs_of_one_verb_are_two_files(interlock, desk):
    said = interlock("plan", "bench.yaml", "--out", "new.yaml", "--sheet", "./new.yaml")
    assert (said.code, "name the same file" in said.err) == (2, True)
    assert not (desk / "new.yaml").exists()


def test_a_new_file_named_as_a_source_s_log_is_written(interlock, desk):
    assert interlock("rate", "bench.yaml", "--out", "scope=wave.csv").code == 3  # without a log
    assert (desk / "scope=wave.csv").read_bytes().startswith(b"%PDF-")


@pytest.fixture
def signed(interlock, report):
    """The demo report, signed by a tester."""
    assert interlock("sign", report, "--role", "tester", "--demo-key", "T").code == 0
    return report


def test_the_log_of_a_report_is_known_again_under_any_name(interlock, signed, demo_log, tmp_path):
    copy = Path(shutil.copy(demo_log, tmp_path / "found_on_a_stick.log"))
    said = interlock("verify", signed, copy)
    assert said.code == 0, said
    assert f"{copy}: same as in the report, where it is {demo_log} (log)" in said.out
    assert "bench.yaml (bench description): in the report, not given, so not compared" in said.out
    document = json.loads(interlock("verify", signed, copy, "--json").out)
    jsonschema.validate(document, verification_schema())
    assert (document["verdict"], len(document["not_given"])) == ("pass", 2)


def test_a_changed_log_and_a_strange_one_fail_beside_the_right_one(interlock, signed, demo_log, tmp_path):
    changed, strange = tmp_path / demo_log.name, tmp_path / "strange.log"
    changed.write_bytes(demo_log.read_bytes()[:-1])
    strange.write_bytes(b"nothing")
    said = interlock("verify", signed, demo_log, changed, strange)
    assert said.code == 1
    assert f"{changed}: differs from {demo_log} (log): its SHA-256 is " in said.out
    assert f"{strange}: not in the report" in said.out
    assert f"{demo_log}: same as in the report" in said.out
    document = json.loads(interlock("verify", signed, changed, "--json").out)
    jsonschema.validate(document, verification_schema())
    assert (document["verdict"], document["files"][0]["match"]) == ("fail", "differs")
    assert document["signers"]  # the signatures hold: only the file is another one


def test_a_log_that_was_not_given_is_not_observed(interlock, signed, root, demo_log):
    bench = root / "interlock/demo/bench.yaml"
    said = interlock("verify", signed, bench)
    assert (said.code, "Verdict: not observed" in said.out) == (3, True)
    assert f"{demo_log} (log): in the report, not given" in said.out
    document = json.loads(interlock("verify", signed, bench, "--json").out)
    jsonschema.validate(document, verification_schema())
    assert document["verdict"] == "not_observed"


def test_nothing_is_compared_with_a_report_that_does_not_hold(interlock, signed, demo_log):
    signed.write_bytes(signed.read_bytes() + b" ")
    said = interlock("verify", signed, demo_log)
    assert said.code == 1
    assert "were not compared" in said.out
    assert "same" not in said.out
    document = json.loads(interlock("verify", signed, demo_log, "--json").out)
    jsonschema.validate(document, verification_schema())
    assert "files" not in document
