"""A new file appears whole or not at all, and an old one stays as it was."""

import os
import stat
from pathlib import Path

import pytest

from interlock.errors import InterlockError
from interlock.look import refuse_old, write_new


def test_the_text_is_there_whole_and_alone(tmp_path):
    write_new(tmp_path / "a.yaml", "Größe: 1\n")
    assert (tmp_path / "a.yaml").read_text(encoding="utf-8") == "Größe: 1\n"
    assert [one.name for one in tmp_path.iterdir()] == ["a.yaml"]
    mask = os.umask(0o022)
    os.umask(mask)
    assert stat.S_IMODE((tmp_path / "a.yaml").stat().st_mode) == 0o666 & ~mask


@pytest.mark.parametrize(
    "make", [lambda path: path.write_text("old"), lambda path: path.symlink_to("nowhere")]
)
def test_what_stands_there_is_not_touched(tmp_path, make):
    path = tmp_path / "a.yaml"
    make(path)
    for call in (lambda: refuse_old(path), lambda: write_new(path, "new")):
        with pytest.raises(InterlockError, match="not overwritten"):
            call()
    assert path.is_symlink() or path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.yaml"]


def test_a_file_that_came_in_between_is_not_touched(tmp_path, monkeypatch):
    path = tmp_path / "a.yaml"
    link = Path.hardlink_to

    def late(self: Path, target: Path) -> None:
        self.write_text("other")
        link(self, target)

    monkeypatch.setattr(Path, "hardlink_to", late)
    with pytest.raises(InterlockError, match="not overwritten"):
        write_new(path, "new")
    assert path.read_text() == "other"
    assert [one.name for one in tmp_path.iterdir()] == ["a.yaml"]


def test_a_file_system_without_second_names_will_do(tmp_path, monkeypatch):
    def refused(*_: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refused)
    write_new(tmp_path / "a.yaml", "new")
    assert (tmp_path / "a.yaml").read_text() == "new"
    assert [one.name for one in tmp_path.iterdir()] == ["a.yaml"]


def test_a_place_that_is_none_is_told(tmp_path):
    with pytest.raises(InterlockError, match=r"none/a\.yaml: cannot write there"):
        write_new(tmp_path / "none" / "a.yaml", "new")
