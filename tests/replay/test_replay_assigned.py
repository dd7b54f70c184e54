"""Which file is of which source: by its content, by a pattern of names, or as it is said; never by a guess.

Real exports: `scope_even.csv`, `scope_times.csv` (RigolWFM, BSD-3-Clause) and `enable_after_steps.sr` (sigrok-dumps,
public domain), see tests/data/README.md.
"""

import gzip
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from needed import need_extra
from replay_tape import BENCH

from interlock.bench.shows_models import Shows
from interlock.bench.source_models import Source
from interlock.errors import LogError
from interlock.replay.assigned import assigned, log_paths, refuse_table
from interlock.trace.readers import read_log

DATA: Final = Path(__file__).parents[1] / "data"
CLOCK: Final = {"drift": "50 ppm", "offset": {"least": "0 s", "most": "1 s"}}


def shows_with(**sources: dict[str, Any]) -> Shows:
    """What the sample bench shows, by a logger and these sources."""
    found = {name: Source.model_validate({"clock": CLOCK, **one}) for name, one in sources.items()}
    assert BENCH.shows is not None
    return BENCH.shows.model_copy(update={"sources": {"logger": Source(kind="can"), **found}})


def table(headings: str = "CH1", **more: object) -> dict[str, Any]:
    return {
        "kind": "table",
        "table": {"time": 1, "units": 2},
        "period": "4 us",
        "longest_gap": "8 us",
        "signals": {"a": {"from": headings, "unit": "V"}},
        **more,
    }


EVEN: Final = {
    "kind": "table",
    "table": {"sample_rate": "100 MHz", "units": 2},
    "signals": {"a": {"from": "CH1", "unit": "V"}, "b": {"from": 3, "unit": "V"}},
}


def test_a_scope_s_table_at_an_even_rate() -> None:
    """The export says an increment of 1e-8 s: 100 MHz."""
    found = assigned(shows_with(scope=EVEN), [DATA / "scope_even.csv"])
    (file,) = found["scope"]
    reading, _ = read_log(file)
    (group,) = reading.sampled
    rows = np.loadtxt(DATA / "scope_even.csv", delimiter=",", skiprows=2, usecols=(1, 2))
    assert np.array_equal(group.values["a"], rows[:, 0])
    assert np.array_equal(group.values["b"], rows[:, 1])
    assert group.times_ns[:4].tolist() == [0, 10, 20, 30]


def test_a_scope_s_table_with_times_whose_column_has_no_heading() -> None:
    found = assigned(shows_with(scope=table("CH4")), [DATA / "scope_times.csv"])
    reading, _ = read_log(found["scope"][0])
    rows = np.loadtxt(DATA / "scope_times.csv", delimiter=",", skiprows=2, usecols=(0, 2))
    assert np.array_equal(reading.sampled[0].values["a"], rows[:, 1])
    assert reading.columns.times_ns[0] == -16_384_000  # before the trigger


def test_a_capture_whose_wires_get_other_names() -> None:
    source = {"kind": "sr", "signals": {"enable": "EN", "off": {"from": "EN", "inverted": True}}}
    found = assigned(shows_with(analyser=source), [DATA / "enable_after_steps.sr"])
    reading, _ = read_log(found["analyser"][0])
    (group,) = reading.sampled
    assert group.message == "analyser"
    assert (group.values["enable"] + group.values["off"] == 1).all()


@pytest.mark.parametrize(
    "name", ["short.log", "short.asc", "short.blf", "short.csv", "short.trc", "two_buses.mf4"]
)
def test_frames_are_the_logger_s_whatever_the_format(name: str) -> None:
    found = assigned(shows_with(scope=table()), [DATA / name])
    assert [file.path.name for file in found["logger"]] == [name]
    assert found["logger"][0].meanings == {}


def test_a_packed_table_is_known_by_what_is_in_it(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv.gz"
    path.write_bytes(gzip.compress((DATA / "scope_times.csv").read_bytes()))
    assert list(assigned(shows_with(scope=table("CH4")), [path])) == ["scope"]


def test_tables_are_told_apart_by_their_headings() -> None:
    shows = shows_with(first=EVEN, second=table("CH4"))
    found = assigned(shows, [DATA / "scope_times.csv", DATA / "scope_even.csv"])
    assert {name: [file.path.name for file in files] for name, files in found.items()} == {
        "second": ["scope_times.csv"],
        "first": ["scope_even.csv"],
    }


def test_what_may_be_of_two_is_not_guessed_at() -> None:
    shows = shows_with(first=table("CH4"), second=table("CH2"))
    with pytest.raises(
        LogError, match=r"scope_times\.csv: it may be of source first or second; write first="
    ):
        assigned(shows, [DATA / "scope_times.csv"])
    named = [Path(f"second={DATA / 'scope_times.csv'}")]
    assert list(assigned(shows, named)) == ["second"]
    patterns = shows_with(first=table("CH4", files="even*"), second=table("CH2", files="scope_*.csv"))
    assert list(assigned(patterns, [DATA / "scope_times.csv"])) == ["second"]


def mf4_of(path: Path, *groups: tuple[str, tuple[str, ...]]) -> Path:
    """An MF4 file of decoded channels, by the names of its groups."""
    asammdf = need_extra("asammdf")
    with asammdf.MDF(version="4.10") as mdf:
        for name, channels in groups:
            times = np.arange(3) / 1000
            signals = [asammdf.Signal(np.zeros(3), times, name=one) for one in channels]
            mdf.append(signals, acq_name=name, common_timebase=True)
        mdf.save(path, overwrite=True)
    return path


DAQ: Final = {"kind": "mf4", "period": "1 ms", "longest_gap": "5 ms", "signals": {"a": "A 1", "b": "B"}}


@pytest.mark.parametrize("packed", [False, True], ids=["plain", "packed"])
def test_an_mf4_file_is_told_apart_by_what_it_holds(tmp_path: Path, packed: bool) -> None:
    need_extra("asammdf")
    files = {
        "logger": DATA / "two_buses.mf4",  # frames
        "daq": mf4_of(tmp_path / "daq.mf4", ("any", ("A 1", "B", "C"))),
    }
    for name, path in files.items():
        given = path
        if packed:
            given = tmp_path / f"{name}.gz"
            given.write_bytes(gzip.compress(path.read_bytes()))
        assert list(assigned(shows_with(daq=DAQ), [given])) == [name]


def test_an_mf4_file_of_the_bench_s_messages_is_the_logger_s(tmp_path: Path) -> None:
    path = mf4_of(tmp_path / "run.mf4", ("SAFE_State", ("CoverA",)), ("DRV_Actual", ("DrvSpeed",)))
    assert list(assigned(shows_with(daq=DAQ), [path])) == ["logger"]


@pytest.mark.parametrize(
    "groups", [(("any", ("A 1",)),), (("SAFE_Stat", ("CoverA",)),)], ids=["one lacks", "none"]
)
def test_what_an_mf4_file_does_not_tell_is_not_guessed_at(tmp_path: Path, groups: Any) -> None:
    with pytest.raises(LogError, match="it may be of source logger or daq; write logger="):
        assigned(shows_with(daq=DAQ), [mf4_of(tmp_path / "run.mf4", *groups)])


def test_two_sources_that_one_mf4_file_may_be_of_are_not_guessed_at(tmp_path: Path) -> None:
    path = mf4_of(tmp_path / "run.mf4", ("any", ("A 1", "B")))
    with pytest.raises(LogError, match="it may be of source daq or other; write daq="):
        assigned(shows_with(daq=DAQ, other=DAQ), [path])


def test_a_damaged_mf4_file_is_refused_and_not_assigned(tmp_path: Path) -> None:
    need_extra("asammdf")
    path = tmp_path / "cut.mf4"
    path.write_bytes((DATA / "two_buses.mf4").read_bytes()[:200])
    with pytest.raises(LogError, match=r"cut\.mf4: .*export it again"):
        assigned(shows_with(daq=DAQ), [path])


def test_a_name_that_no_source_bears(tmp_path: Path) -> None:
    shows = shows_with(scope=table())
    log = DATA / "short.log"
    with pytest.raises(LogError, match=r"'scop' is no source of the bench; did you mean scope\?"):
        assigned(shows, [Path(f"scop={log}")])
    odd = tmp_path / "a=b.log"
    odd.write_bytes(log.read_bytes())
    assert list(assigned(shows, [odd])) == ["logger"]


def test_files_are_hashed_by_their_own_names() -> None:
    shows = shows_with(scope=table())
    logs = [Path("logger=a.log"), Path("b.csv"), Path("logger=a.log")]
    assert log_paths(shows, logs) == [Path("a.log"), Path("b.csv")]
    assert log_paths(None, logs[1:2]) == [Path("b.csv")]


def test_no_log_at_all() -> None:
    with pytest.raises(LogError, match="no log file given"):
        assigned(shows_with(), [])


def test_without_sources_everything_is_of_one_logger() -> None:
    assert BENCH.shows is not None
    found = assigned(BENCH.shows, [DATA / "short.log", DATA / "short.asc"])
    assert [len(files) for files in found.values()] == [2]
    with pytest.raises(LogError, match="describe it in the bench file under shows, sources"):
        assigned(BENCH.shows, [DATA / "scope_even.csv"])


def test_a_table_is_refused_with_what_to_do_instead() -> None:
    refuse_table(DATA / "short.csv", "this")  # frames, as python-can writes them
    with pytest.raises(LogError, match="if it is a table of samples, do that"):
        refuse_table(DATA / "scope_times.csv", "do that")
