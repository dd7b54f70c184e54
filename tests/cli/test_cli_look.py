"""`interlock look`: exit codes, the page, JSON, the draft."""

import json

import jsonschema
import pytest

from interlock.look import look_schema


@pytest.fixture
def data(root):
    return root / "tests" / "data"


def test_a_sound_log_exits_0_and_shows_its_messages(interlock, data):
    said = interlock("look", data / "short.log", "--dbc", data / "bench.dbc")
    assert said.code == 0
    assert "1500 frames, 0 other, 0 not read" in said.out
    for word in ("SAFE_State", "Alive mod 256", "SAFE_State.CoverA", "DRV_Actual.DrvCurrent", "1/min"):
        assert word in said.out
    assert "No doubt was found" in said.out
    assert "local codes" in said.out


def test_without_a_dbc_there_are_messages_only(interlock, data):
    said = interlock("look", data / "short.blf")
    assert said.code == 0
    assert "byte 7 mod 256" in said.out
    assert "No DBC given" in said.out
    assert "SAFE_State" not in said.out


@pytest.mark.parametrize("name", ["short.log", "short.asc", "short.blf", "short.csv"])
def test_json(interlock, data, name):
    said = interlock("look", data / name, "--dbc", data / "bench.dbc", "--json")
    assert said.code == 0
    document = json.loads(said.out)
    jsonschema.validate(document, look_schema())
    (file,) = document["files"]
    assert file["lines_or_objects"] == file["frames"] + file["non_frames"] + len(file["findings"])


def test_a_broken_line_exits_3_and_is_shown_with_its_number(interlock, data, tmp_path):
    lines = (data / "short.log").read_text().splitlines(keepends=True)
    lines[100] = "junk\n"
    log = tmp_path / "broken.log"
    log.write_text("".join(lines))
    said = interlock("look", log)
    assert said.code == 3
    assert "broken.log:101: This line is no frame" in said.out
    assert "1 not read" in said.out
    assert interlock("look", log, "--json").code == 3


def test_what_is_no_log_is_bad_input(interlock, tmp_path):
    junk = tmp_path / "junk.bin"
    junk.write_bytes(bytes(range(256)) * 20)
    for args in ((junk,), (tmp_path / "none.log",), ()):
        assert interlock("look", *args).code == 2


def test_a_draft_is_written_once(interlock, data, tmp_path):
    target = tmp_path / "bench.yaml"
    args = ("look", data / "short.log", "--dbc", data / "bench.dbc", "--draft", target)
    said = interlock(*args)
    assert said.code == 0
    assert "25 entries undecided" in said.out
    text = target.read_text()
    again = interlock(*args)
    assert again.code == 2
    assert "not overwritten" in again.err
    assert target.read_text() == text


def test_a_draft_in_json(interlock, data, tmp_path):
    target = tmp_path / "bench.yaml"
    said = interlock("look", data / "short.log", "--dbc", data / "bench.dbc", "--draft", target, "--json")
    document = json.loads(said.out)
    jsonschema.validate(document, look_schema())
    assert document["draft"] == {"path": str(target), "undecided": 25}
    checked = interlock("check", target)
    assert checked.code == 2
    assert len(checked.err.splitlines()) == 25


def test_a_draft_needs_a_dbc(interlock, data, tmp_path):
    said = interlock("look", data / "short.log", "--draft", tmp_path / "bench.yaml")
    assert said.code == 2
    assert "--dbc" in said.err
    assert not (tmp_path / "bench.yaml").exists()
