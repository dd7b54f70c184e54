"""The JSON document keeps its published form, whatever is in the log."""

import json
import math

import jsonschema
import numpy as np
import pytest
from look_material import DATA, DBC, candump, counting

from interlock.look import document, look, look_schema
from interlock.look.document import _signal
from interlock.look.values import summary
from interlock.trace.model import Samples


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(look_schema())


@pytest.mark.parametrize("name", ["short.log", "short.asc", "short.blf", "short.csv"])
@pytest.mark.parametrize("dbc", [None, DBC])
def test_documents_meet_the_schema(name, dbc):
    found = document(look([DATA / name], dbc))
    jsonschema.validate(found, look_schema())
    json.dumps(found, allow_nan=False)
    assert bool(found["signals"]) == (dbc is not None)


def test_a_document_of_a_damaged_log_meets_the_schema(tmp_path):
    frames = [*counting(20), (210_000, "120#00"), (220_000, "7FF#00"), (215_000, "7FF#00")]
    found = document(look([candump(tmp_path / "a.log", frames, extra={5: "junk"})], DBC))
    jsonschema.validate(found, look_schema())
    (file,) = found["files"]
    assert file["findings"][0]["line"] == 6
    assert {doubt["kind"] for doubt in found["quality"]} == {
        "unreadable",
        "time_backwards",
        "unknown_id",
        "wrong_length",
    }


def test_keys_that_scripts_rely_on():
    found = document(look([DATA / "short.log"], DBC))
    assert {"files", "messages", "signals"} <= set(found)
    assert {"path", "format", "lines_or_objects", "frames", "non_frames", "findings"} <= set(
        found["files"][0]
    )


def test_the_same_log_gives_the_same_document():
    assert document(look([DATA / "short.blf"], DBC)) == document(look([DATA / "short.blf"], DBC))


def test_values_that_are_no_numbers_stay_out_of_the_document():
    for value in (math.nan, math.inf, -math.inf):
        samples = Samples("M", "S", "", np.array([0, 10]), np.array([value, value]))
        json.dumps(_signal(summary(samples, None)), allow_nan=False)
