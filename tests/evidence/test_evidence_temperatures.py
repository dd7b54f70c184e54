"""The report's table of temperatures: the result's own sentence, and the highest of the run and of each stop."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from evidence_material import sample
from evidence_pdf_text import whole_text

from interlock.errors import EvidenceError
from interlock.evidence.document import write_report

NOW = datetime(2026, 2, 3, tzinfo=UTC)
RUN = {
    "function": None,
    "demand_ns": None,
    "highest_degc": 90.2,
    "at_ns": [40_000_000_000, 40_004_000_001],
    "at_least": False,
    "apart": 0,
    "hottest_apart_degc": None,
}
STOP = {
    **RUN,
    "function": "cover_stop",
    "demand_ns": [5_000_000_000, 5_010_000_000],
    "highest_degc": 51.4,
    "at_least": True,
}
NOTHING = {**STOP, "function": "button_stop", "highest_degc": None, "at_ns": None}
ROW = {
    "port": "drive.winding_temperature",
    "name": "winding temperature of the drive unit",
    "uncertain_degc": 0.5,
    "limit_degc": 100.0,
    "reached": False,
    "run": RUN,
    "stops": [STOP, NOTHING],
    "sentence": "winding temperature of the drive unit: 90.2 °C; 100 °C are permitted: not reached.",
}


def report(folder: Path, *rows: dict[str, Any]) -> str:
    raw = sample()
    raw = sample(replay={**(raw.replay or {}), "temperatures": list(rows)})
    return " ".join(whole_text(write_report(folder / "report.pdf", raw, made_at=NOW)).split())


def test_every_figure_is_printed(tmp_path: Path) -> None:
    text = report(tmp_path, ROW)
    for said in (
        "Temperatures",
        "100 °C are permitted: not reached.",
        "whole run 90.2 °C 40.0000 to 40.0041 s",
        "cover_stop 5.0000 to 5.0100 s at least 51.4 °C",
        "button_stop 5.0000 to 5.0100 s not shown –",
        "These figures change no verdict.",
    ):
        assert said in text, said


def test_a_peak_whose_evidence_is_not_said_to_be_whole_is_at_least_so_much(tmp_path: Path) -> None:
    assert "whole run at least 90.2 °C" in report(tmp_path, {**ROW, "run": {**RUN, "at_least": None}})


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"run": None}, "an object was expected"),
        ({"sentence": " "}, "is empty"),
        ({"run": {**RUN, "highest_degc": "hot"}}, "a finite number was expected"),
        ({"stops": [{**STOP, "demand_ns": [1]}]}, "in whole ns was expected"),
    ],
)
def test_a_row_that_is_none_is_refused(tmp_path: Path, change: dict[str, Any], why: str) -> None:
    with pytest.raises(EvidenceError, match=why):
        report(tmp_path, {**ROW, **change})


def test_without_temperatures_there_is_no_such_page(tmp_path: Path) -> None:
    assert "from each demand to its reset" not in report(tmp_path)
