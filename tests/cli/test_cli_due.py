"""`interlock due`: text, JSON by its schema, calendar; the exit code says whether anything is due now."""

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import jsonschema
import pytest

from interlock.bench import bench_fingerprint, load_bench
from interlock.demo.walk import BENCH_FILE
from interlock.register import append, create
from interlock.register.due_document import due_schema
from interlock.register.judged import proof_test
from interlock.replay import document, replay

DEMO = "interlock/demo/bench.yaml"
SAMPLE = "tests/benches/sample/bench.yaml"
LATER = ("--made-at", "2027-02-01T08:00:00Z")  # the simulated log is of 2027-01-15


@pytest.fixture(scope="module")
def entered(tmp_path_factory: pytest.TempPathFactory, demo_log: Path) -> bytes:
    """A register with the proof test of 2027-01-15, made once."""
    path, bench = tmp_path_factory.mktemp("due") / "tests.jsonl", load_bench(BENCH_FILE)
    judgement, fingerprint = replay(BENCH_FILE, bench, [demo_log]), bench_fingerprint(BENCH_FILE, bench)
    result = json.dumps(document(judgement, fingerprint))
    name, test = proof_test("run", result, bench.required.functions)
    create(path, now=datetime(2027, 1, 1, tzinfo=UTC))
    append(path, name, test, now=datetime(2027, 2, 1, tzinfo=UTC))
    return path.read_bytes()


@pytest.fixture
def register(entered: bytes, tmp_path: Path) -> Path:
    path = tmp_path / "tests.jsonl"
    path.write_bytes(entered)
    return path


DAYS = [("2027-02-01", 0), ("2028-01-14", 0), ("2028-01-15", 1), ("2044-02-25", 1)]


@pytest.mark.parametrize(("today", "code"), DAYS)
def test_the_exit_code_says_whether_anything_is_due(interlock, root, register, today, code):
    """Twelve months after the test of 2027-01-15, as the bench file states and ISO 14119 names for PL d."""
    said = interlock("due", register, root / DEMO, "--today", today)
    assert said.code == code
    assert "local codes and licensed practice come first" in re.sub(r"\s+", " ", said.out)


def test_json_is_as_its_schema_says(interlock, root, register):
    jsonschema.Draft202012Validator.check_schema(due_schema())
    shown = json.loads(interlock("due", register, root / DEMO, "--today", "2027-02-01", "--json").out)
    jsonschema.validate(shown, due_schema())
    assert [(one["subject"], one["due"]) for one in shown["items"]] == [
        ("hood_stop", "2028-01-15"),
        ("button_stop", "2028-01-15"),
        ("emergency_stop", "2028-01-15"),
        ("contactor", "2044-02-25"),
        ("hood", "2045-10-30"),
    ]
    assert (shown["verdict"], shown["today"]) == ("pass", "2027-02-01")
    for key in ("register", "items", "cautions"):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({name: one for name, one in shown.items() if name != key}, due_schema())


def test_what_is_due_at_once_comes_first(interlock, root, register):
    said = interlock("due", register, root / DEMO, root / SAMPLE, "--today", "2027-02-01")
    assert said.code == 1
    days = re.findall(r"^(at once|\d{4}-\d\d-\d\d)  ", said.out, re.MULTILINE)
    assert days == ["at once"] * 3 + ["2028-01-15"] * 3 + ["2044-02-25", "2045-10-30"]
    assert "cover_stop: never tested by this register: the test is due now" in said.out


def test_a_rewiring_makes_every_test_and_timing_due(interlock, root, register):
    interlock(
        "register", "changed", register, root / DEMO, "--date", "2027-01-20", "--what", "new relay", *LATER
    )
    said = interlock("due", register, root / DEMO, "--today", "2027-02-01")
    assert (said.code, said.out.count("changed on 2027-01-20 (entry 2: new relay) since")) == (1, 4)


def test_the_calendar_is_written_whole_and_the_same(interlock, root, register, tmp_path):
    one, other = tmp_path / "one.ics", tmp_path / "other.ics"
    for path in (one, other):
        said = interlock("due", register, root / DEMO, "--today", "2027-02-01", "--calendar", path, *LATER)
        assert (said.code, f"{path}: written" in re.sub(r"\n", "", said.out)) == (0, True)
    assert one.read_bytes() == other.read_bytes()
    assert one.read_bytes().count(b"BEGIN:VEVENT\r\n") == 5


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ((DEMO, "--today", "01.02.2027"), "write it as 2026-01-31"),
        ((DEMO, DEMO, "--today", "2027-02-01"), "is given twice"),
        (("no/bench.yaml",), "no/bench.yaml"),
        ((), "BENCH"),
        ((DEMO, "--calendar", "no/such/folder.ics", "--today", "2027-02-01"), "cannot write there"),
    ],
)
def test_bad_usage_is_one_clear_error(interlock, root, register, monkeypatch, args, says):
    monkeypatch.chdir(root)
    said = interlock("due", register, *args)
    assert (said.code, says in said.err) == (2, True)


def test_a_changed_register_tells_nothing(interlock, root, register):
    register.write_text(register.read_text().replace("2027-01-15", "2029-01-15"))
    said = interlock("due", register, root / DEMO, "--json")
    assert said.code == 2
    assert f"{register}:2: changed" in json.loads(said.out)["message"]
