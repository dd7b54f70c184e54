"""The benchmarks run and print rows of the form that scripts rely on; how fast they are is no matter for a test."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KEYS = {"name", "ours", "peer", "ratio", "goal"}


def bench(*args: str) -> subprocess.CompletedProcess[str]:
    """`python -m tests.bench ARGS` from the checkout."""
    return subprocess.run(
        [sys.executable, "-m", "tests.bench", *args],
        check=False,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
    )


@pytest.fixture(scope="module")
def rows() -> dict[str, dict[str, object]]:
    done = bench("traces", "check_demo", "--quick", "--json")
    assert done.returncode == 0, done.stderr
    found = [json.loads(line) for line in done.stdout.splitlines()]
    return {row["name"]: row for row in found}


def test_every_row_is_there(rows):
    traces = {"candump", "asc", "blf", "mf4", "monitor", "file_to_verdict"}
    mixed = {"candump_mixed", "asc_mixed", "blf_mixed", "trc", "csv"}
    assert set(rows) == traces | mixed | {"check_demo"}


def test_each_row_compares_or_says_why_not(rows):
    for row in rows.values():
        assert set(row) >= KEYS
        assert ("skipped" in row) == (row["ours"] is None)
        if row["ours"] is not None and row["peer"] is not None:
            assert row["ratio"] == pytest.approx(row["peer"] / row["ours"])


def test_the_whole_way_tells_its_rate_and_its_memory(rows):
    row = rows["file_to_verdict"]
    assert row["frames_per_s"] > 0
    assert row["peak_mib"] > 10
    assert row["verdict"] in {"pass", "fail", "inconclusive", "not_observed"}


def test_a_table_for_people():
    done = bench("candump", "--quick")
    assert done.returncode == 0, done.stderr
    head, row = done.stdout.splitlines()
    assert head.split()[:5] == ["row", "ours", "peer", "ratio", "goal"]
    assert row.split()[0] == "candump"


def test_an_unknown_name_is_refused():
    done = bench("nothing")
    assert done.returncode == 2
    assert "invalid choice: 'nothing'" in done.stderr
