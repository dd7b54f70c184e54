"""The demo: whole, in words, and refusing what it must refuse."""

import json
import sys
from contextlib import redirect_stdout
from dataclasses import replace
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path

import pytest

from interlock.bench import load_bench
from interlock.chain import check
from interlock.cli import main
from interlock.demo import BENCH_FILE, walk
from interlock.demo.keeping import keep
from interlock.demo.proving import wrong_bench
from interlock.errors import InterlockError, RegisterError
from interlock.evidence.verify import verify_report
from interlock.procedure import load_procedure
from interlock.register import load_register
from interlock.verdict import Verdict

NOW = datetime(2026, 5, 6, 7, 8, 9, tzinfo=UTC)


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """The folder, the stations and the printed page of one walk by the verb; its day is fixed."""
    folder, stations = tmp_path_factory.mktemp("walk") / "deep" / "er", []

    def kept(where, *, now):
        assert now.tzinfo is UTC
        for station in walk(where, now=NOW):
            stations.append(station)
            yield station

    page = StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(page), pytest.raises(SystemExit) as end:
        patch.setattr("interlock.demo.walk", kept)
        patch.setattr(sys, "argv", ["interlock", "demo", "--out", str(folder)])
        main()
    assert end.value.code == 0
    return folder, stations, page.getvalue()


@pytest.fixture
def walked(told):
    """The folder and the stations of that walk."""
    return told[:2]


def test_each_station_comes_out_as_it_must(walked):
    _, stations = walked
    assert [one.verdict for one in stations] == [one.expected for one in stations]
    assert [one.verdict for one in stations].count(Verdict.FAIL) == 4


def test_every_file_named_is_there(walked):
    folder, stations = walked
    named = {path for one in stations for path in one.files}
    assert all(path.is_file() and folder in path.parents for path in named)


def test_the_wrong_bench_differs_in_one_line(walked):
    folder, _ = walked
    right, wrong = ((folder / name).read_text().splitlines() for name in ("bench.yaml", "wrong_bench.yaml"))
    assert sum(a != b for a, b in zip(right, wrong, strict=True)) == 1


def test_the_signed_report_holds_and_is_marked(walked):
    folder, _ = walked
    held = verify_report(folder / "report_signed.pdf", now=NOW)
    assert held.verdict is Verdict.PASS
    assert held.is_demo
    assert [one.role for one in held.signers] == ["tester", "safety_officer"]


def test_the_faults_are_told_in_figures_that_the_checker_gives(walked):
    """The same figures, counted from what `check` prints as JSON."""
    folder, stations = walked
    said = "\n".join(stations[2].says)
    document = check(load_bench(folder / "bench.yaml"), faults=2).as_json()
    single = [one for one in document["faults"] if len(one["set"]) == 1]
    losing = sum(bool(one["lost"]) for one in single)
    silent = sum(not one["detected"] for one in single)
    pairs = sum(one["minimal"] and bool(one["lost"]) and len(one["set"]) == 2 for one in document["faults"])
    assert 0 < losing < len(single)
    assert (
        f"of {len(single)} single faults {losing} lose a function in part, {silent} are not noticed" in said
    )
    assert f"{pairs} pairs of faults" in said


def test_the_derived_test_is_a_procedure_for_this_bench_and_a_sheet(walked):
    folder, stations = walked
    written, sheet = stations[3].files
    procedure = load_procedure(written, load_bench(folder / "bench.yaml"))
    assert stations[3].says[0].startswith(f"{len(procedure.steps)} steps of cost ")
    assert sheet.read_bytes().startswith(b"%PDF-")


def test_the_register_holds_the_test_and_the_spoilt_one_is_refused(walked):
    folder, stations = walked
    book = load_register(folder / "tests.jsonl")
    (entry,) = book.entries
    assert entry.content.verdict is Verdict.PASS
    assert entry.content.date == NOW.date()
    assert set(entry.content.functions) == set(load_bench(folder / "bench.yaml").required.functions)
    assert any("2027-05-06" in line for line in stations[8].says)  # twelve months later, by the bench file
    with pytest.raises(RegisterError, match="changed"):
        load_register(folder / "tests_tampered.jsonl")


def test_walking_again_over_the_same_folder_works(walked):
    folder, _ = walked
    bench, log = folder / "bench.yaml", folder / "proof_test.log"
    assert next(walk(folder, now=NOW)).verdict is Verdict.PASS
    assert [one.verdict for one in keep(folder, bench, log, NOW)] == [Verdict.PASS, Verdict.FAIL]
    assert len(load_register(folder / "tests.jsonl").entries) == 1


def test_the_line_to_be_spoilt_is_in_the_bench():
    load_bench(BENCH_FILE)
    assert "contactor.coil: emergency.c and (supply_on.pressed or contactor.aux)" in BENCH_FILE.read_text()


def test_a_bench_without_that_line_is_an_error(tmp_path):
    (tmp_path / "bench.yaml").write_text("nothing")
    with pytest.raises(InterlockError, match="restore the built-in bench"):
        wrong_bench(tmp_path / "bench.yaml")


def test_the_verb_says_that_it_is_invented_and_shows_the_cautions(told):
    folder, stations, page = told
    assert "invented" in page
    assert "local codes" in page.lower()
    assert "The demo holds." in page
    assert [f"{number}. {one.title}" in page for number, one in enumerate(stations, 1)] == [True] * 10
    assert (folder / "report_signed.pdf").is_file()


def test_it_writes_where_the_readme_says(interlock, tmp_path, walked, monkeypatch):
    folders = []
    monkeypatch.setattr("interlock.demo.walk", lambda folder, **_: folders.append(folder) or iter(walked[1]))
    monkeypatch.chdir(tmp_path)
    assert interlock("demo").code == 0
    assert folders == [Path("reports/demo")]


def test_the_verb_with_json_is_one_document(interlock, tmp_path, walked, monkeypatch):
    _, stations = walked
    monkeypatch.setattr("interlock.demo.walk", lambda *_args, **_options: iter(stations))
    said = interlock("demo", "--out", tmp_path / "here", "--json")
    document = json.loads(said.out)
    assert said.code == 0
    assert document["holds"] is True
    assert len(document["stations"]) == 10


def test_a_demo_that_does_not_hold_exits_1_and_says_so(interlock, tmp_path, walked, monkeypatch):
    _, stations = walked
    turned = [replace(stations[0], verdict=Verdict.FAIL), *stations[1:]]
    monkeypatch.setattr("interlock.demo.walk", lambda *_args, **_options: iter(turned))
    said = interlock("demo", "--out", tmp_path / "here")
    assert said.code == 1
    assert "THE DEMO IS BROKEN" in said.out
    assert "does NOT hold" in said.out


def test_a_folder_with_files_of_somebody_else_is_left_alone(tmp_path):
    """Somebody's own bench file and register of past tests have the very names that the demo writes."""
    mine = {"bench.yaml": "mine", "tests.jsonl": "five years of tests"}
    for name, text in mine.items():
        (tmp_path / name).write_text(text)
    with pytest.raises(InterlockError, match="not of the demo"):
        next(iter(walk(tmp_path, now=NOW)))
    assert {one.name: one.read_text() for one in tmp_path.iterdir()} == mine


def test_a_second_walk_may_follow_in_the_folder_of_the_first(walked, tmp_path):
    folder, _ = walked
    (tmp_path / "wrong_bench.yaml").write_bytes((folder / "wrong_bench.yaml").read_bytes())
    assert next(iter(walk(tmp_path, now=NOW))).verdict is Verdict.PASS
