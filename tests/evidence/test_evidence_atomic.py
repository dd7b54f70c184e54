"""A file appears whole or not at all, whatever goes wrong on the way."""

import os
import stat
from pathlib import Path

import pytest

from interlock.errors import EvidenceError
from interlock.evidence import atomic
from interlock.evidence.atomic import read_whole, write_whole

OLD, NEW = b"old", b"new and longer"


def leftovers(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


def test_new_bytes_take_the_place_of_old_ones(tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(OLD)
    write_whole(path, NEW)
    assert read_whole(path) == NEW
    assert leftovers(tmp_path) == ["report.pdf"]


@pytest.mark.parametrize("name", ["x", "a" * 200 + ".pdf", "with space.pdf", ".hidden"])
def test_any_name_that_a_file_may_have(tmp_path, name):
    write_whole(tmp_path / name, NEW)
    assert leftovers(tmp_path) == [name]


def test_the_file_has_the_rights_that_a_plain_one_would_have(tmp_path):
    write_whole(tmp_path / "written", NEW)
    (tmp_path / "plain").write_bytes(NEW)
    modes = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("written", "plain")]
    assert modes[0] == modes[1]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failure_on_the_way_leaves_the_old_file_and_nothing_beside_it(tmp_path, monkeypatch, step):
    path = tmp_path / "report.pdf"
    path.write_bytes(OLD)

    def full(*_args: object) -> None:
        raise OSError(28, "No space left on device")

    if step == "fsync":
        monkeypatch.setattr(os, "fsync", full)
    else:
        monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(
        EvidenceError, match=r"report\.pdf: cannot write there: No space left on device; choose"
    ):
        write_whole(path, NEW)
    assert path.read_bytes() == OLD
    assert leftovers(tmp_path) == ["report.pdf"]


def test_who_interrupts_it_leaves_nothing_half_written(tmp_path, monkeypatch):
    def interrupted(*_args: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(atomic.os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "report.pdf", NEW)
    assert leftovers(tmp_path) == []


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(EvidenceError, match="cannot write there: No such file or directory"):
        write_whole(tmp_path / "no" / "report.pdf", NEW)


def test_a_file_in_place_of_a_folder_is_said(tmp_path):
    (tmp_path / "file").write_bytes(OLD)
    with pytest.raises(EvidenceError, match="cannot write there: Not a directory"):
        write_whole(tmp_path / "file" / "report.pdf", NEW)


def test_a_folder_at_the_place_stays(tmp_path):
    (tmp_path / "report.pdf").mkdir()
    with pytest.raises(EvidenceError, match="cannot write there"):
        write_whole(tmp_path / "report.pdf", NEW)
    assert leftovers(tmp_path) == ["report.pdf"]


@pytest.mark.parametrize("name", ["missing.pdf", "folder"])
def test_what_cannot_be_read_is_said(tmp_path, name):
    (tmp_path / "folder").mkdir()
    with pytest.raises(EvidenceError, match=name):
        read_whole(tmp_path / name)


def test_a_file_that_stands_there_keeps_its_rights(tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(OLD)
    path.chmod(0o600)
    write_whole(path, NEW)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_link_is_followed_and_stays_a_link(tmp_path):
    file, link = tmp_path / "report.pdf", tmp_path / "newest.pdf"
    file.write_bytes(OLD)
    link.symlink_to(file)
    write_whole(link, NEW)
    assert link.is_symlink()
    assert file.read_bytes() == NEW


def test_a_pipe_is_not_replaced_by_a_file(tmp_path):
    """As a device such as the full disk's is not: with the rights to do it, the system would lose it."""
    path = tmp_path / "pipe"
    os.mkfifo(path)
    with pytest.raises(EvidenceError, match="no ordinary file"):
        write_whole(path, NEW)
    assert stat.S_ISFIFO(path.stat().st_mode)
    assert leftovers(tmp_path) == ["pipe"]
