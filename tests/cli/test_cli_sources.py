"""Several logs of one run on the command line: `replay`, `report`, `rate` and `look` take them in the same way.

The second recorder's table is made from the frames of the built-in bench, decoded by cantools, with a clock of its own.
"""

import json
import shutil

import can
import cantools
import jsonschema
import numpy as np
import pytest

from interlock.look import look_schema
from interlock.replay import replay_schema

SOURCES = """\
  sources:
    logger: {kind: can}
    scope:
      kind: table
      table: {time: Time, separator: semicolon, decimal: comma}
      period: 1 ms
      longest_gap: 3 ms
      stamp_delay: {least: 0 ms, most: 3 ms}
      signals: {permit: {from: CH1, unit: V, high_from: 15 V, low_to: 5 V}}
      clock:
        drift: 10 ppm
        edges: [{here: scope.permit is 1, there: CellInputs.PermitPrime is 1}]
"""


@pytest.fixture(scope="module")
def run(root, demo_log, tmp_path_factory):
    """A folder with the bench, its CAN log and the scope's table, whose zero is 3.25 s before the first frame."""
    folder = tmp_path_factory.mktemp("run")
    demo = root / "interlock" / "demo"
    text = (demo / "bench.yaml").read_text("utf-8")
    text = text.replace("  messages:\n", f"{SOURCES}  messages:\n", 1)
    old = "prime.enabled: CellInputs.PermitPrime is 1"
    assert old in text
    (folder / "bench.yaml").write_text(text.replace(old, "prime.enabled: scope.permit is 1"), "utf-8")
    shutil.copy(demo / "bench.dbc", folder)
    shutil.copy(demo_log, folder / "run.log")
    message = cantools.database.load_file(demo / "bench.dbc").get_message_by_name("CellInputs")
    with can.LogReader(demo_log) as reader:
        frames = list(reader)
    shown = [
        (one.timestamp, message.decode(one.data)["PermitPrime"])
        for one in frames
        if one.arbitration_id == message.frame_id
    ]
    stamps, values = np.array([(at, float(bool(int(value)))) for at, value in shown]).T
    times = np.arange(frames[0].timestamp - 0.5, frames[-1].timestamp, 0.001)
    volts = 24.0 * values[np.maximum(np.searchsorted(stamps, times, side="right") - 1, 0)]
    rows = zip(times - frames[0].timestamp + 3.25, volts, strict=True)
    table = "".join(f"{at:.4f};{level:.1f}\n" for at, level in rows).replace(".", ",")
    (folder / "scope.csv").write_text(f"Time;CH1\n{table}")
    return folder


def test_replay_joins_them_and_says_how(interlock, run):
    said = interlock("replay", run / "bench.yaml", run / "run.log", run / "scope.csv", "--json")
    document = json.loads(said.out)
    jsonschema.validate(document, replay_schema())
    assert (said.code, document["verdict"]) == (0, "pass")
    assert [one["format"] for one in document["sources"]] == ["candump", "table"]
    assert any("scope.csv: Aligned by" in note for note in document["notes"])
    widths = [
        one["latency_ns"][1] - one["latency_ns"][0]
        for one in document["findings"]
        if (one["effect"], one["subject"]) == ("enable_off", "prime") and one["latency_ns"]
    ]
    assert len(widths) >= 3
    assert max(widths) < 40_000_000


def test_a_source_is_named_with_its_file(interlock, run):
    named = f"scope={run / 'scope.csv'}"
    said = interlock("replay", run / "bench.yaml", named, run / "run.log", "--json")
    assert json.loads(said.out)["verdict"] == "pass"
    wrong = interlock("replay", run / "bench.yaml", f"scop={run / 'scope.csv'}", run / "run.log")
    assert wrong.code == 2
    assert "'scop' is no source of the bench; did you mean scope?" in wrong.err


def test_one_log_of_two_is_inconclusive(interlock, run):
    said = interlock("replay", run / "bench.yaml", run / "run.log")
    assert said.code == 3
    assert "No log of the source scope is given: add its file" in said.out


def test_a_table_that_nobody_described_is_bad_input(interlock, root, run):
    said = interlock("replay", root / "interlock/demo/bench.yaml", run / "run.log", run / "scope.csv")
    assert said.code == 2
    assert (
        "scope.csv: it holds no frames; if it is a table of samples, describe it in the bench file"
        in said.err
    )


def test_look_says_how_a_bench_file_would_state_the_table(interlock, run):
    said = interlock("look", run / "scope.csv")
    assert said.code == 0
    assert "table: {time: 'Time', separator: semicolon, decimal: comma}" in said.out


def test_a_report_names_both_logs(interlock, run, tmp_path):
    out = tmp_path / "report.pdf"
    named = f"scope={run / 'scope.csv'}"
    said = interlock("report", run / "bench.yaml", run / "run.log", named, "--out", out, "--demo", "--json")
    assert said.code == 0, said
    assert json.loads(said.out)["verdict"] == "pass"
    assert out.read_bytes().startswith(b"%PDF")


def test_a_rating_takes_both_logs(interlock, run):
    traces = ("--trace", run / "run.log", "--trace", f"scope={run / 'scope.csv'}")
    said = json.loads(interlock("rate", run / "bench.yaml", *traces, "--today", "2026-01-31", "--json").out)
    assert "hood_stop" in said["stop_times"]


def test_look_shows_every_source_by_the_bench(interlock, run):
    said = interlock("look", "--bench", run / "bench.yaml", run / "run.log", run / "scope.csv", "--json")
    document = json.loads(said.out)
    jsonschema.validate(document, look_schema())
    assert said.code == 0
    assert [one["format"] for one in document["files"]] == ["candump", "table"]
    assert "scope" in {one["name"] for one in document["messages"]}
    assert ("scope", "permit") in {(one["message"], one["name"]) for one in document["signals"]}
    assert any("scope.csv count from its own start" in note for note in document["notes"])


def test_look_by_bench_has_a_dbc_of_its_own(interlock, root, run):
    dbc = root / "interlock/demo/bench.dbc"
    said = interlock("look", "--bench", run / "bench.yaml", "--dbc", dbc, run / "run.log")
    assert said.code == 2
    assert "--bench names its own DBC" in said.err
