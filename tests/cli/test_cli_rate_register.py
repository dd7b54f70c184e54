"""`interlock rate --register`: counts beside what is stated; a broken register or an unknown device rates nothing."""

import json
import shutil
from pathlib import Path

import pytest

DEMO = "interlock/demo/bench.yaml"
DAY = ("--today", "2026-03-04")
AT = ("--made-at", "2026-03-01T08:00:00Z")


@pytest.fixture
def register(interlock, root, tmp_path: Path) -> Path:
    """The contactor and the hood counted for a year."""
    path = tmp_path / "tests.jsonl"
    interlock("register", "new", path, "--made-at", "2025-01-01T08:00:00Z")
    for device, operations, load_breaks in (("contactor", 700, 44), ("hood", 5000, 0)):
        days = ("--since", "2025-01-01", "--until", "2026-01-01")
        counts = ("--operations", operations, "--load-breaks", load_breaks, "--source", "counter")
        assert interlock("register", "count", path, root / DEMO, device, *days, *counts, *AT).code == 0
    return path


def test_the_text_says_where_each_number_is_from(interlock, root, register, demo_log):
    said = interlock("rate", root / DEMO, "--register", register, "--trace", demo_log, *DAY).out
    last = json.loads(register.read_text().splitlines()[-1])["sha256"]
    for words in (
        f"register tests.jsonl: 2 line(s) below its head, hash of the last line {last}",
        "counted on contactor: 700 operations without load and 44 load breaks in 365 days from 2025-01-01",
        "counted in this log alone, not extrapolated: demands: hood 2, stop_button 2, emergency 1",
        "counted in this log alone, not extrapolated: contactor: 1 opening(s), 1 of them under load",
        "[register tests.jsonl, entry 2; 2025-01-01 to 2026-01-01; bound by Garwood (1936); counted, as the register",
        "operations: the largest of n_stated, n_counted",
    ):
        assert words in said


def test_a_changed_register_rates_nothing(interlock, root, register, tmp_path):
    register.write_text(register.read_text().replace('"load_breaks":44', '"load_breaks":4'))
    out = tmp_path / "r.pdf"
    said = interlock("rate", root / DEMO, "--register", register, "--out", out, *DAY)
    assert (said.code, said.out) == (2, "")
    assert f"{register}:2: changed" in said.err
    assert not out.exists()


def test_a_changed_register_is_in_no_report(interlock, root, register, demo_log, tmp_path):
    register.write_text(register.read_text().replace('"load_breaks":44', '"load_breaks":4'))
    out = tmp_path / "r.pdf"
    said = interlock("report", root / DEMO, demo_log, "--register", register, "--out", out)
    assert (said.code, f"{register}:2: changed" in said.err, out.exists()) == (2, True, False)


def test_a_register_of_other_benches_is_refused(interlock, root, register):
    said = interlock("rate", root / "tests/benches/sample/bench.yaml", "--register", register, *DAY)
    assert (said.code, "it holds nothing of bench 'sample'; benches in it: cell_4" in said.err) == (2, True)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("device: stop_button, per_year", "device: stop_bottom, per_year"),
        ("b10d_load_break: 20000", "b10d_load_break: 20000\n      device: main_contactor"),
    ],
)
def test_a_device_that_the_bench_does_not_have_is_told_with_its_place(
    interlock, root, register, tmp_path, old, new
):
    text = (root / DEMO).read_text(encoding="utf-8")
    shutil.copyfile((root / DEMO).with_name("bench.dbc"), tmp_path / "bench.dbc")
    bench = tmp_path / "bench.yaml"
    assert old in text
    bench.write_text(text.replace(old, new, 1), encoding="utf-8")
    said = interlock("rate", bench, "--register", register, *DAY, "--json")
    (problem,) = json.loads(said.out)["problems"]
    shown = bench.read_text().splitlines()[problem["line"] - 1][problem["column"] - 1 :]
    assert (said.code, problem["what"]) == (2, f"'{new.split('device: ')[1].split(',')[0]}'")
    assert shown.startswith(problem["what"].strip("'"))
