"""What a report is made of: the work is done on the files named, once, and each of them is listed by its digest."""

import hashlib
import shutil
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from interlock.demo.measuring import record
from interlock.demo.walk import BENCH_FILE
from interlock.errors import BenchError, InterlockError
from interlock.evidence.gather import gather, gather_rating
from interlock.evidence.material import ReportMaterial, read
from interlock.verdict import Verdict

DAY = date(2026, 3, 4)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built-in bench, its messages, and the log of a sound proof test."""
    place = tmp_path_factory.mktemp("gathered")
    for name in ("bench.yaml", "bench.dbc"):
        shutil.copyfile(BENCH_FILE.with_name(name), place / name)
    record(place / "run.log", None, begun=datetime(2026, 3, 4, tzinfo=UTC))
    return place


@pytest.fixture(scope="module")
def whole(folder: Path) -> ReportMaterial:
    return gather(folder / "bench.yaml", [folder / "run.log"], remarks="by day", today=DAY)


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def unrated(folder: Path) -> Path:
    """The same bench without its section `rating`."""
    path = folder / "unrated.yaml"
    path.write_text(
        (folder / "bench.yaml").read_text(encoding="utf-8").split("\nrating:")[0], encoding="utf-8"
    )
    return path


def test_every_file_is_listed_once_by_its_digest(whole: ReportMaterial, folder: Path) -> None:
    listed = [(item["role"], item["path"], item["sha256"]) for item in whole.inputs]
    assert listed == [
        ("bench description", str(folder / "bench.yaml"), digest(folder / "bench.yaml")),
        ("messages of the log (DBC)", str(folder / "bench.dbc"), digest(folder / "bench.dbc")),
        ("log", str(folder / "run.log"), digest(folder / "run.log")),
    ]


def test_all_three_results_are_of_the_same_bench(whole: ReportMaterial) -> None:
    for part in (whole.check, whole.replay, whole.rating):
        assert part is not None
        assert part["bench"]["fingerprint"] == whole.bench["fingerprint"]
    assert read(whole).verdict is Verdict.PASS


def test_remarks_and_the_mark_of_a_demo_are_taken_over(whole: ReportMaterial) -> None:
    assert (whole.remarks, whole.demo) == ("by day", False)


def test_a_bench_without_the_section_is_reported_unrated(folder: Path) -> None:
    material = gather(unrated(folder), [folder / "run.log"])
    assert material.rating is None
    assert read(material).rating is None


def test_but_a_rating_of_it_is_an_error_not_an_empty_page(folder: Path) -> None:
    with pytest.raises(InterlockError, match="no section 'rating'"):
        gather_rating(unrated(folder), [])


def test_a_mistake_in_the_section_stops_the_whole_report(folder: Path) -> None:
    path = folder / "wrong.yaml"
    text = (folder / "bench.yaml").read_text(encoding="utf-8")
    path.write_text(text.replace("distance_mm: 900", "distance_mm: -900"), encoding="utf-8")
    with pytest.raises(BenchError, match="distance_mm"):
        gather(path, [folder / "run.log"])


def test_without_a_day_no_replacement_date_passes(folder: Path) -> None:
    result, material = gather_rating(folder / "bench.yaml", [])
    assert {one.name: one.verdict for one in result.others}["wear and replacement"] is Verdict.INCONCLUSIVE
    assert read(material).verdict is not Verdict.PASS


def test_the_log_of_a_rating_is_listed_too(folder: Path) -> None:
    result, material = gather_rating(folder / "bench.yaml", [folder / "run.log"], today=DAY)
    assert material.inputs[-1]["sha256"] == digest(folder / "run.log")
    assert material.rating is not None
    assert set(material.rating["stop_times"]) == {one.name for one in result.functions}
    assert result.verdict is Verdict.PASS
