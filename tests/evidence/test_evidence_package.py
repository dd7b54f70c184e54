"""Importing the room costs nothing; files are written whole or not at all."""

import subprocess
import sys
from pathlib import Path

import pytest

from interlock.errors import EvidenceError
from interlock.evidence.atomic import read_whole, write_whole


def test_importing_the_room_loads_no_heavy_library() -> None:
    code = "import sys, interlock.evidence; print([n for n in ('reportlab', 'pyhanko') if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_file_is_replaced_in_one_step(tmp_path: Path) -> None:
    path = tmp_path / "f"
    path.write_bytes(b"old")
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert [entry.name for entry in tmp_path.iterdir()] == ["f"]


def test_a_new_file_has_usual_rights(tmp_path: Path) -> None:
    (tmp_path / "usual").write_bytes(b"")
    write_whole(tmp_path / "f", b"new")
    assert (tmp_path / "f").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_if_it_cannot_be_put_in_place_nothing_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "f"
    path.write_bytes(b"old")

    def broken(_self: Path, _target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", broken)
    with pytest.raises(EvidenceError, match="No space left"):
        write_whole(path, b"new")
    assert [entry.name for entry in tmp_path.iterdir()] == ["f"]
    assert path.read_bytes() == b"old"


def test_places_that_cannot_be_used(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "missing"):
        with pytest.raises(EvidenceError, match="cannot read"):
            read_whole(path)
    with pytest.raises(EvidenceError, match="cannot write"):
        write_whole(tmp_path / "missing" / "f", b"")
    (tmp_path / "folder").mkdir()
    with pytest.raises(EvidenceError, match="cannot write"):
        write_whole(tmp_path / "folder", b"")
