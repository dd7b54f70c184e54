"""The document: the published schema, every finding as plain data, and nothing that depends on when it is made."""

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from replay_tape import COVER, ESTOP, Tape, heard, judged, sound

from interlock.cautions import CAUTIONS
from interlock.interval import Interval
from interlock.replay import Finding, document, replay_schema
from interlock.replay.finding import milliseconds
from interlock.trace.as_json import interval_json
from interlock.verdict import Verdict

PRINT = "0" * 64


def made(tape: Tape) -> dict[str, Any]:
    said = document(heard(tape), PRINT)
    said["sources"] = [
        {
            "path": "a.log",
            "sha256": PRINT,
            "format": "candump",
            "lines_or_objects": 1,
            "frames": 1,
            "non_frames": 0,
            "rejected": 0,
        }
    ]
    return said


@pytest.mark.parametrize(
    "tape",
    [
        sound(),
        sound().drop(None, 20),
        sound().hold("SpeedRef", COVER.on - 0.1, COVER.start),
        sound().drop(None, 12.0, 13.0),
        sound().drop(None, -1, ESTOP.on + 1),
        sound().put("TorqueEnableDrv", 0, 12.0, 12.2),
        sound().put("CoverB", 1, COVER.on, COVER.gone),
        sound().late(0x120, 0.05, 20, 20.4),
    ],
    ids=["sound", "short", "kept", "silent", "begun", "unexplained", "apart", "late"],
)
def test_the_document_keeps_to_its_schema(tape: Tape) -> None:
    jsonschema.validate(made(tape), replay_schema(), jsonschema.Draft202012Validator)


def test_the_schema_is_itself_sound_and_refuses_what_does_not_belong() -> None:
    jsonschema.Draft202012Validator.check_schema(replay_schema())
    said = made(sound())
    for spoil in (
        lambda d: d.pop("verdict"),
        lambda d: d.update(verdict="maybe"),
        lambda d: d.update(findings=[]),
        lambda d: d["findings"][0].update(effect="magic"),
        lambda d: d["findings"][0].update(latency_ns=[1.5, None]),
        lambda d: d["findings"][0].update(demand_ns=[1]),
        lambda d: d.update(mood="good"),
        lambda d: d.update(trace_start="2026-09-21"),
    ):
        spoiled = json.loads(json.dumps(said))
        spoil(spoiled)
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(spoiled, replay_schema(), jsonschema.Draft202012Validator)


def test_a_document_of_a_file_names_it_and_its_first_frame(tmp_path: Path) -> None:
    said = document(judged(sound(), tmp_path), PRINT)
    jsonschema.validate(said, replay_schema(), jsonschema.Draft202012Validator)
    tape = sound()
    micro = int(tape.us.min())
    assert said["trace_start"] == f"2026-09-21T14:13:20.{micro:06d}000Z"
    assert said["duration_ns"] == int(tape.us.max() - tape.us.min()) * 1000
    (source,) = said["sources"]
    assert source["path"].endswith("a.log")
    assert (source["frames"], source["rejected"]) == (len(tape.us), 0)
    assert said["bench"]["fingerprint"] == PRINT
    assert said["cautions"] == list(CAUTIONS)
    assert said["verdict"] == "pass"


def test_a_log_without_a_date_has_no_start(tmp_path: Path) -> None:
    said = document(judged(sound().text(epoch=0), tmp_path), PRINT)
    jsonschema.validate(said, replay_schema(), jsonschema.Draft202012Validator)
    assert said["trace_start"] is None or said["trace_start"].startswith("1970")


def test_every_demand_of_the_log_is_listed_with_its_onset() -> None:
    said = made(sound())
    assert [one["function"] for one in said["demands"]] == [
        *("cover_stop", "button_stop", "cover_stop", "emergency_stop", "button_stop", "cover_stop")
    ]
    onsets = {tuple(one["onset_ns"]) for one in said["demands"]}
    assert onsets == {tuple(one["demand_ns"]) for one in said["findings"] if one["demand_ns"]}


def test_the_same_log_gives_the_same_text() -> None:
    assert json.dumps(made(sound()), sort_keys=True) == json.dumps(made(sound()), sort_keys=True)


def test_findings_become_plain_data() -> None:
    finding = Finding(
        "f",
        "drive",
        "torque_off",
        Verdict.FAIL,
        "r",
        "s",
        "It was slow.",
        Interval(1, 2),
        Interval(3, None),
        4,
    )
    assert finding.as_json() == {
        "function": "f",
        "subject": "drive",
        "effect": "torque_off",
        "verdict": "fail",
        "demand_ns": [1, 2],
        "latency_ns": [3, None],
        "limit_ns": 4,
        "requirement": "r",
        "source": "s",
        "sentence": "It was slow.",
    }
    assert interval_json(None) is None
    with pytest.raises(TypeError, match=r"compare \.verdict"):
        bool(finding)


@pytest.mark.parametrize(
    ("interval", "words"),
    [
        (Interval(0, 0), "0 to 0 ms"),
        (Interval(7_713_000, 30_907_000), "7.7 to 31 ms"),  # rounded outwards
        (Interval(99_999, 100_001), "0 to 0.2 ms"),
        (Interval(100_000_001, None), "more than 100 ms"),
        (Interval(-150_000, -50_000), "-0.2 to 0 ms"),
    ],
)
def test_intervals_in_words_are_rounded_outwards(interval: Interval, words: str) -> None:
    assert milliseconds(interval) == words


def test_every_sentence_is_one_that_a_person_can_read() -> None:
    for tape in (sound(), sound().drop(None, 20), sound().put("CoverB", 1, COVER.on, COVER.gone)):
        for one in heard(tape).findings:
            assert one.sentence[0].isupper() or one.sentence.split(":")[0].endswith("log")
            assert one.sentence.endswith(".")
            assert not {"None", "nan", "inf"} & set(one.sentence.split())
            assert "  " not in one.sentence
            assert one.requirement
            assert one.source
