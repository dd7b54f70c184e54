"""The file: one line longer or not changed at all, whatever goes wrong, and never by two writers at once."""

import errno
import json
import os
import stat
import subprocess
import sys
from pathlib import Path
from threading import Thread

import pytest
from register_lines import BENCH, at, changed, counted, made, proof

from interlock.errors import RegisterError
from interlock.register import append, create, load_register
from interlock.register.entries import Withdrawn


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made(tmp_path / "r.jsonl")
    return tmp_path / "r.jsonl"


def only(path: Path) -> bool:
    """Nothing but the register lies in its folder."""
    return [one.name for one in path.parent.iterdir()] == [path.name]


def test_appending_leaves_every_old_byte_as_it_was(path):
    before = path.read_bytes()
    register, entry = append(path, BENCH, changed("2025-08-01"), now=at("2025-08-01"))
    assert path.read_bytes().startswith(before)
    assert path.read_bytes().count(b"\n") == before.count(b"\n") + 1
    assert (entry.entry, entry.previous) == (7, json.loads(before.splitlines()[-1])["sha256"])
    assert register == load_register(path)
    assert only(path)


def test_same_input_same_bytes(tmp_path):
    """No clock and no chance but those handed in."""
    one, other = tmp_path / "one.jsonl", tmp_path / "other.jsonl"
    assert made(one).sha256 == made(other).sha256
    assert one.read_bytes() == other.read_bytes()


def test_the_time_of_an_entry_is_kept_in_utc_whatever_the_zone(tmp_path):
    from datetime import datetime

    path = tmp_path / "r.jsonl"
    create(path, now=at("2025-01-01"))
    _, entry = append(
        path, BENCH, changed("2025-06-01"), now=datetime.fromisoformat("2025-06-02T00:30:00+02:00")
    )
    assert b'"made":"2025-06-01T22:30:00Z"' in path.read_bytes()
    assert entry.made == at("2025-06-01").replace(hour=22, minute=30)


def test_a_register_is_never_made_over_something(path, tmp_path):
    before = path.read_bytes()
    with pytest.raises(RegisterError, match="exists already and is not overwritten"):
        create(path, now=at("2025-01-01"))
    link = tmp_path / "dangling"
    link.symlink_to(tmp_path / "nowhere")
    with pytest.raises(RegisterError, match="exists already"):
        create(link, now=at("2025-01-01"))
    assert path.read_bytes() == before


def test_an_entry_that_does_not_fit_changes_nothing(path):
    before = path.read_bytes()
    with pytest.raises(RegisterError):
        append(path, BENCH, Withdrawn(withdraws=99, reason="x"), now=at("2025-08-01"))
    assert path.read_bytes() == before
    assert only(path)


def test_a_broken_register_takes_no_further_line(path):
    spoilt = path.read_bytes().replace(b"misread", b"mistake")
    path.write_bytes(spoilt)
    with pytest.raises(RegisterError, match=":6: changed"):
        append(path, BENCH, changed("2025-08-01"), now=at("2025-08-01"))
    assert path.read_bytes() == spoilt
    assert only(path)


def test_what_is_not_there_is_not_made_by_an_entry(tmp_path):
    with pytest.raises(RegisterError, match="interlock register new"):
        append(tmp_path / "r.jsonl", BENCH, changed("2025-08-01"), now=at("2025-08-01"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_register(path, monkeypatch, call):
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full) if call == "fsync" else patch.setattr(Path, "replace", full)
        with pytest.raises(RegisterError, match="nothing was changed"):
            append(path, BENCH, changed("2025-08-01"), now=at("2025-08-01"))
    assert path.read_bytes() == before
    assert only(path)


def test_a_stop_by_the_user_leaves_the_old_register(path, monkeypatch):
    before = path.read_bytes()

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", stopped)
        with pytest.raises(KeyboardInterrupt):
            append(path, BENCH, changed("2025-08-01"), now=at("2025-08-01"))
    assert path.read_bytes() == before
    assert only(path)


def test_another_writer_is_waited_for_and_then_named(path):
    lock = path.with_name("r.jsonl.lock")
    lock.write_bytes(b"half a regis")
    before = path.read_bytes()
    with pytest.raises(RegisterError, match=r"another program is writing to it since 20.*delete that file"):
        append(path, BENCH, changed("2025-08-01"), now=at("2025-08-01"), wait_s=0)
    assert path.read_bytes() == before
    assert lock.read_bytes() == b"half a regis"  # not ours to take away
    lock.unlink()
    append(path, BENCH, changed("2025-08-01"), now=at("2025-08-01"), wait_s=0)


def test_many_writers_at_once_lose_no_line(path):
    """Eight threads, three lines each: every line is there, the chain holds."""
    errors: list[BaseException] = []

    def write(k: int) -> None:
        try:
            for n in range(3):
                append(path, BENCH, proof("2025-08-01", f"{k}-{n}.log"), now=at("2025-08-01"), wait_s=30)
        except BaseException as error:  # noqa: BLE001 - told by the test
            errors.append(error)

    threads = [Thread(target=write, args=(k,)) for k in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert errors == []
    register = load_register(path)
    names = {log.name for entry in register.entries[6:] for log in entry.content.logs}
    assert names == {f"{k}-{n}.log" for k in range(8) for n in range(3)}
    assert only(path)


def test_a_reader_beside_a_writer_always_sees_a_whole_register(path):
    """Another process reads while this one writes."""
    watch = (
        "import sys, time; from pathlib import Path; from interlock.register import load_register\n"
        "path, seen, ends = Path(sys.argv[1]), set(), time.monotonic() + 20\n"
        "print('ready', flush=True)\n"
        "while max(seen, default=0) < 16 and time.monotonic() < ends: seen.add(len(load_register(path).entries))\n"
        "print(max(seen))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", watch, str(path)], stdout=subprocess.PIPE, text=True
    ) as reader:
        assert reader.stdout.readline() == "ready\n"
        for n in range(10):
            append(path, BENCH, proof("2025-08-01", f"{n}.log"), now=at("2025-08-01"))
        assert reader.stdout.read() == "16\n"
    assert reader.returncode == 0


def test_a_link_goes_on_to_point_at_the_register(path, tmp_path):
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    link = folder / "link.jsonl"
    link.symlink_to(path)
    append(link, BENCH, changed("2025-08-01"), now=at("2025-08-01"))
    assert link.is_symlink()
    assert len(load_register(path).entries) == 7


def test_rights_of_the_file_stay(path):
    path.chmod(0o640)
    append(path, BENCH, changed("2025-08-01"), now=at("2025-08-01"))
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_folder_is_no_register(tmp_path):
    with pytest.raises(RegisterError, match="cannot read"):
        load_register(tmp_path)
    with pytest.raises(RegisterError, match="cannot write there"):
        create(tmp_path / "no" / "such" / "folder.jsonl", now=at("2025-01-01"))


def test_a_count_can_be_read_back_as_it_was_given(path):
    count = counted("2025-07-01", "2025-09-30", 5, 0, device="k2")
    _, entry = append(path, BENCH, count, now=at("2025-10-01"), note="zähler")
    assert load_register(path).entries[-1] == entry
    assert (entry.content, entry.note) == (count, "zähler")
