"""Counts of a register in the rating's document and pages: where each number is from, and the hash to note."""

import re
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, NamedTuple

import jsonschema
import pytest
from evidence_pdf_text import whole_text
from scipy.stats import chi2

from interlock.bench import bench_fingerprint, load_bench
from interlock.demo import BENCH_FILE
from interlock.demo.measuring import record
from interlock.errors import EvidenceError, InterlockError, RegisterError
from interlock.evidence.counted import counted, counted_document, read_uses
from interlock.evidence.document import write_report
from interlock.evidence.gather import gather, gather_rating
from interlock.evidence.material import ReportMaterial
from interlock.evidence.rated import rating_schema
from interlock.register import BenchName, Operations, append, create, load_register

NOW = datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC)


class Rated(NamedTuple):
    register: Path
    past: ReportMaterial  # rated with it and with a log


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> Rated:
    """The demo bench, its contactor counted with more load breaks than stated, its hood with more openings."""
    folder = tmp_path_factory.mktemp("counted")
    path, bench = folder / "tests.jsonl", load_bench(BENCH_FILE)
    name = BenchName(
        id=bench.bench.id, name=bench.bench.name, fingerprint=bench_fingerprint(BENCH_FILE, bench)
    )
    create(path, now=datetime(2025, 1, 1, tzinfo=UTC))
    for device, operations, load_breaks in (("contactor", 700, 44), ("hood", 5000, 0)):
        days = {"since": date(2025, 1, 1), "until": date(2026, 1, 1)}
        counts = {"operations": operations, "load_breaks": load_breaks, "source": "counter"}
        append(path, name, Operations(device=device, **days, **counts), now=datetime(2026, 2, 1, tzinfo=UTC))
    log = record(folder / "run.log", None, begun=NOW)
    _, past = gather_rating(BENCH_FILE, [log], today=NOW.date(), register=path)
    return Rated(path, past)


def document(material: ReportMaterial) -> dict[str, Any]:
    assert material.rating is not None
    return dict(material.rating)


def wear_steps(material: ReportMaterial) -> dict[str, float]:
    (found,) = (one for one in document(material)["others"] if one["name"] == "wear and replacement")
    return {step["title"]: step["result"] for step in found["steps"]}


def test_the_document_is_as_its_schema_says(rated):
    jsonschema.validate(document(rated.past), rating_schema())
    without = {**document(rated.past), **counted_document(None, None)}
    assert (without["register"], without["counted_in_log"]) == (None, None)
    jsonschema.validate(without, rating_schema())
    for key in ("register", "counted_in_log"):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({k: v for k, v in document(rated.past).items() if k != key}, rating_schema())


def test_it_holds_the_counts_and_the_hash_to_note(rated):
    found = document(rated.past)["register"]
    assert (found["sha256"], found["count"]) == (load_register(rated.register).sha256, 2)
    assert found["uses"][0] == {
        "device": "contactor",
        "source": "register tests.jsonl, entry 1",
        "days": 365,
        "operations": 700,
        "load_breaks": 44,
        "since": "2025-01-01",
        "until": "2026-01-01",
        "installed": None,
    }


def test_what_one_log_counts_stands_apart(rated):
    found = document(rated.past)["counted_in_log"]
    assert found["demands"] == {"hood": 2, "stop_button": 2, "emergency": 1}
    assert found["contactors"]["contactor"]["under_load"] == 1


def test_more_counted_than_stated_shortens_lives(rated):
    """5000 hood openings counted against 4400 stated; 44 load breaks a year against 24 in two years."""
    steps = {one["title"]: one["result"] for one in document(rated.past)["functions"][0]["steps"]}
    assert steps["hood_switch_a: operations stated"] == 4400
    assert 5000 < steps["hood_switch_a: operations"] < 5200
    # the upper bounds (95 %, Garwood) of 700 and 44 in one year; lives of 1.3e6 and 20000 by the bench file
    life = wear_steps(rated.past)["contactor: T10d with load-breaking stops counted apart"]
    heavy = chi2.ppf(0.95, 2 * 44 + 2) / 2
    light = chi2.ppf(0.95, 2 * 700 + 2) / 2
    assert life == pytest.approx(1 / (light / 1.3e6 + heavy / 20000))


def test_a_part_without_counts_is_as_stated(rated):
    """Nobody counted the stop button: 600 a year as stated, and no step of counts."""
    steps = {one["title"]: one["result"] for one in document(rated.past)["functions"][1]["steps"]}
    assert steps["stop_contact_a: operations"] == 600
    assert not [title for title in steps if "counted" in title]


def test_the_pages_say_where_each_number_is_from(rated, tmp_path):
    text = re.sub(r"\s+", " ", whole_text(write_report(tmp_path / "r.pdf", rated.past, made_at=NOW)))
    last = load_register(rated.register).sha256
    for words in (
        "Counted on contactor: 700 operations without load and 44 load breaks in 365 days",
        "Counted in this log alone, not extrapolated: contactor: 1 opening(s), 1 of them under load",
        "Register tests.jsonl: 2 line(s) below its head",
        "counted, as the register holds it",
        "the largest of n_stated, n_counted",
    ):
        assert words in text
    assert last in text.replace(" ", "")
    same = tmp_path / "same.pdf"
    write_report(same, rated.past, made_at=NOW)
    assert same.read_bytes() == (tmp_path / "r.pdf").read_bytes()


def test_the_register_is_an_input_with_the_hash_of_its_file(rated):
    import hashlib

    (found,) = (one for one in rated.past.inputs if one["role"] == "register of past tests")
    assert found["sha256"] == hashlib.sha256(rated.register.read_bytes()).hexdigest()


@pytest.mark.parametrize("spoil", [{"uses": [{}]}, {"uses": None}, {"file": None, "uses": 3}])
def test_counts_that_nobody_made_are_refused(rated, tmp_path, spoil):
    from dataclasses import replace

    rating = document(rated.past)
    wrong = replace(rated.past, rating={**rating, "register": {**rating["register"], **spoil}})
    with pytest.raises(EvidenceError, match="its counts are not as rate gives them"):
        write_report(tmp_path / "r.pdf", wrong, made_at=NOW)


def test_older_documents_have_no_counts_to_show():
    assert counted({}) == []


# bad input


def test_a_changed_register_rates_nothing(rated, tmp_path):
    path = tmp_path / "tests.jsonl"
    path.write_text(rated.register.read_text().replace('"load_breaks":44', '"load_breaks":4'))
    with pytest.raises(RegisterError, match=":2: changed"):
        gather_rating(BENCH_FILE, [], today=NOW.date(), register=path)


def test_a_register_of_other_benches_is_refused(rated):
    with pytest.raises(RegisterError, match="it holds nothing of bench 'cell_5'; benches in it: cell_4"):
        read_uses(rated.register, "cell_5")


def test_a_report_without_rating_has_no_use_for_a_register(rated, tmp_path):
    text = BENCH_FILE.read_text(encoding="utf-8").split("\nrating:")[0]
    (tmp_path / "bench.yaml").write_text(f"{text}\n", encoding="utf-8")
    (tmp_path / "bench.dbc").write_bytes(BENCH_FILE.with_name("bench.dbc").read_bytes())
    with pytest.raises(InterlockError, match="leave the register out"):
        gather(tmp_path / "bench.yaml", [tmp_path / "no.log"], register=rated.register)
