"""The published schema: it is the one in the package, valid itself, true to every line, and refuses what we refuse."""

import json
from pathlib import Path

import jsonschema
import pytest
from pydantic import ValidationError
from register_lines import made

from interlock.register.entries import Entry, Head, Person, register_schema
from interlock.register.shown import SCHEMA_FILE, document, holds, schema_text, shown_schema
from interlock.verdict import Verdict


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> list[dict]:
    path = tmp_path_factory.mktemp("entries") / "r.jsonl"
    made(path)
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


LINE = jsonschema.Draft202012Validator(register_schema())


def test_the_published_file_is_what_the_code_says():
    assert SCHEMA_FILE.read_text(encoding="utf-8") == schema_text()


def test_the_schemas_are_valid():
    jsonschema.Draft202012Validator.check_schema(register_schema())
    jsonschema.Draft202012Validator.check_schema(shown_schema())


def test_every_kind_of_line_is_as_the_schema_says(lines):
    assert {line["content"]["kind"] for line in lines[1:]} == {
        "proof_test",
        "operations",
        "replaced",
        "changed",
        "withdrawn",
    }
    for line in lines:
        LINE.validate(line)


def with_changes(line: dict, path: str, value: object) -> str:
    changed = json.loads(json.dumps(line))
    *way, last = path.split(".")
    inner = changed
    for key in way:
        inner = inner[key]
    if value is None:
        del inner[last]
    else:
        inner[last] = value
    return json.dumps(changed)


@pytest.mark.parametrize(
    ("number", "path", "value"),
    [
        (0, "format", "register"),
        (0, "version", 2),
        (0, "sha256", "x"),
        (0, "more", 1),
        (1, "entry", 0),
        (1, "bench", None),
        (1, "bench.fingerprint", "abc"),
        (1, "previous", None),
        (1, "content.verdict", "passed"),
        (1, "content.functions", {}),
        (1, "content.logs", []),
        (1, "content.rest", None),
        (1, "content.more", 1),
        (2, "content.operations", -1),
        (2, "content.operations", 1.5),
        (2, "content.operations", "3"),
        (2, "content.source", ""),
        (2, "content.kind", "operation"),
        (4, "content.what", None),
        (5, "content.withdraws", 0),
    ],
)
def test_reader_and_schema_refuse_the_same(lines, number, path, value):
    text = with_changes(lines[number], path, value)
    with pytest.raises(jsonschema.ValidationError):
        LINE.validate(json.loads(text))
    with pytest.raises(ValidationError):
        (Entry if number else Head).model_validate_json(text)


@pytest.mark.parametrize("value", ["2025-13-01", "01.02.2025", "2025-02-30", 20250101])
def test_a_day_is_a_day(lines, value):
    with pytest.raises(ValidationError):
        Entry.model_validate_json(with_changes(lines[2], "content.since", value))


def test_a_time_without_zone_is_refused(lines):
    with pytest.raises(ValidationError, match="zone"):
        Entry.model_validate_json(with_changes(lines[1], "made", "2025-01-02T12:00:00"))


def test_a_person_is_somebody():
    assert Person(role="tester").name == ""
    with pytest.raises(ValidationError, match="name or a role"):
        Person()


# the document that the verbs print


def test_the_document_is_as_its_schema_says(tmp_path):
    register = made(tmp_path / "r.jsonl")
    shown = document("r.jsonl", register, register.entries, (Verdict.PASS, ("said",)))
    jsonschema.validate(shown, shown_schema())
    assert [one["entry"] for one in shown["entries"]] == [1, 2, 3, 4, 5, 6]
    assert shown["withdrawn"] == [{"entry": 2, "by": 5, "reason": "misread"}]
    jsonschema.validate(document("r.jsonl", None, (), (Verdict.FAIL, ("cut",))), shown_schema())
    for key in ("sha256", "cautions", "entries"):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({name: one for name, one in shown.items() if name != key}, shown_schema())


def test_entries_of_the_document_are_the_lines_of_the_file(tmp_path):
    path: Path = tmp_path / "r.jsonl"
    register = made(path)
    written = map(json.loads, path.read_text(encoding="utf-8").splitlines()[1:])
    for whole, plain in zip(document("", register, register.entries)["entries"], written, strict=True):
        shown = {key: value for key, value in whole.items() if value not in (None, "")}
        assert shown.pop("by", None) == (
            {"name": "", "role": "", **plain.pop("by")} if "by" in plain else None
        )
        assert shown == plain


def test_a_noted_hash_says_up_to_where_all_is_as_it_was(tmp_path):
    register = made(tmp_path / "r.jsonl")
    verdict, said = holds(register, [register.entries[3].sha256])
    assert (verdict, said[1]) == (
        Verdict.PASS,
        f"Up to entry 4 it is as noted with {register.entries[3].sha256}; 2 entries came later.",
    )
    verdict, said = holds(register, [register.sha256, "0" * 64])
    assert verdict is Verdict.FAIL
    assert "cut off or written anew" in said[2]


def test_without_a_noted_hash_it_is_said_what_the_chain_cannot_show(tmp_path):
    verdict, said = holds(made(tmp_path / "r.jsonl"))
    assert verdict is Verdict.PASS
    assert "cannot show whether lines were cut off at its end" in said[-1]
