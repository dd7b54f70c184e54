"""What changed in an EDS: entry by entry, with the package `canopen` as the oracle of what each file says.

Files: `ros-industrial/ros2_canopen` (Apache-2.0, see tests/data/README.md). SHA-256 by the standard library.
"""

import hashlib
from pathlib import Path

import pytest
from bench_sample import TEXT, load
from hypothesis import given, settings
from hypothesis import strategies as st
from needed import need_module

from interlock.bench import Bench
from interlock.bench.canopen import CanopenNode
from interlock.bench.difference import difference
from interlock.bench.eds_difference import eds_changes
from interlock.errors import InterlockError

canopen = need_module("canopen")

EDS = Path(__file__).parents[1] / "data" / "eds"
DRIVE = EDS / "cia402.eds"
TEXT_OF_DRIVE = DRIVE.read_bytes().decode("cp1252").replace("\r\n", "\n")


def written(folder: Path, text: str) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / "drive.eds"
    path.write_bytes(text.encode("cp1252"))
    return path


def changed(folder: Path, section: str, key: str, value: str) -> Path:
    """The drive's EDS with one key of one section set anew."""
    lines, inside = [], False
    for line in TEXT_OF_DRIVE.split("\n"):
        inside = line.strip().lower() == f"[{section}]".lower() if line.strip().startswith("[") else inside
        lines.append(f"{key}={value}" if inside and line.startswith(f"{key}=") else line)
    assert lines != TEXT_OF_DRIVE.split("\n")
    return written(folder, "\n".join(lines))


def bench(node: int = 5, **nodes: str) -> Bench:
    plain = load(TEXT)
    named = {
        name: CanopenNode.model_validate({"node": node, "eds": file})
        for name, file in (nodes or {"axis": "drive.eds"}).items()
    }
    return plain.model_copy(update={"shows": plain.shows.model_copy(update={"canopen": named})})


def said(old: Path, new: Path, **both: int) -> list[str]:
    one = bench(**both)
    return [str(change) for change in difference(one, one, folders=(old.parent, new.parent))]


def test_the_same_file_is_no_change(tmp_path: Path) -> None:
    old, new = written(tmp_path / "a", TEXT_OF_DRIVE), written(tmp_path / "b", TEXT_OF_DRIVE)
    assert said(old, new) == []


def test_a_mapping_that_changed_is_told_by_its_entry(tmp_path: Path) -> None:
    """The first mapped object of the first transmit PDO: before and after as the package `canopen` reads them."""
    old = written(tmp_path / "a", TEXT_OF_DRIVE)
    new = changed(tmp_path / "b", "1A00sub1", "DefaultValue", "0x60610008")
    before, after = (canopen.import_od(str(path), 5)[0x1A00][1].default for path in (old, new))
    (line,) = said(old, new)
    assert line.startswith("shows.canopen.axis.eds.1A00h sub 1: ")
    assert line.endswith(f"{after} ({after:X}h)")
    assert f"{before} ({before:X}h) -> " in line
    assert after == 0x60610008


def test_a_type_that_changed_is_a_change_too(tmp_path: Path) -> None:
    old = written(tmp_path / "a", TEXT_OF_DRIVE)
    new = changed(tmp_path / "b", "6041", "DataType", "0x0007")
    (line,) = said(old, new)
    assert line.startswith("shows.canopen.axis.eds.6041h sub 0: ")
    assert "type 0006h" in line.partition(" -> ")[0]
    assert "type 0007h" in line.partition(" -> ")[2]


def test_an_entry_that_came_or_went_is_told_with_nothing_on_the_other_side(tmp_path: Path) -> None:
    old = written(tmp_path / "a", TEXT_OF_DRIVE)
    at = TEXT_OF_DRIVE.index("[1A00sub1]")
    end = TEXT_OF_DRIVE.index("[", at + 1)
    new = written(tmp_path / "b", TEXT_OF_DRIVE[:at] + TEXT_OF_DRIVE[end:])
    (gone,) = [line for line in said(old, new) if "1A00h sub 1:" in line]
    (came,) = [line for line in said(new, old) if "1A00h sub 1:" in line]
    assert gone.endswith("-> (nothing)")
    assert ": (nothing) -> " in came


def test_other_bytes_with_the_same_entries_differ_by_their_checksums(tmp_path: Path) -> None:
    """A comment: no entry changed, but the fingerprint did, so the difference is not empty."""
    old, new = written(tmp_path / "a", TEXT_OF_DRIVE), written(tmp_path / "b", f"; edited\n{TEXT_OF_DRIVE}")
    sums = [hashlib.sha256(path.read_bytes()).hexdigest() for path in (old, new)]
    assert said(old, new) == [f"shows.canopen.axis.eds.content: SHA-256 {sums[0]} -> SHA-256 {sums[1]}"]


def test_without_folders_nothing_is_read() -> None:
    one = bench(axis="no_such.eds")
    assert difference(one, one) == ()


def test_a_node_that_came_is_told_by_its_entries_alone(tmp_path: Path) -> None:
    written(tmp_path, TEXT_OF_DRIVE)
    one, two = bench(), bench(axis="drive.eds", second="drive.eds")
    paths = [change.path for change in difference(one, two, folders=(tmp_path, tmp_path))]
    assert paths
    assert {path[:3] for path in paths} == {("shows", "canopen", "second")}


def test_another_file_name_with_other_content_is_both(tmp_path: Path) -> None:
    written(tmp_path, TEXT_OF_DRIVE)
    changed(tmp_path / "b", "6041", "DataType", "0x0007").rename(tmp_path / "other.eds")
    found = difference(bench(), bench(axis="other.eds"), folders=(tmp_path, tmp_path))
    assert [change.path[3:] for change in found] == [("eds",), ("eds", "6041h sub 0")]


@pytest.mark.parametrize(
    ("content", "why"),
    [(None, "it cannot be read"), (b"\x81\x8d", "is no character"), (b"[1A00]\nX", "is no sound EDS")],
)
def test_a_file_that_cannot_be_read_is_one_clear_error(
    tmp_path: Path, content: bytes | None, why: str
) -> None:
    old = written(tmp_path / "a", TEXT_OF_DRIVE)
    (tmp_path / "b").mkdir()
    if content is not None:
        (tmp_path / "b" / "drive.eds").write_bytes(content)
    with pytest.raises(InterlockError, match=why) as told:
        said(old, tmp_path / "b" / "drive.eds")
    assert str(tmp_path / "b" / "drive.eds") in str(told.value)


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(["1A00sub1", "1A00sub2", "1800sub1", "1A01sub1"]), st.integers(1, 0xFFFF))
def test_there_and_back_say_the_same(
    tmp_path_factory: pytest.TempPathFactory, section: str, value: int
) -> None:
    """Law: exactly the changed entry is told, and the way back swaps both sides."""
    folder = tmp_path_factory.mktemp("eds")
    old, new = (
        written(folder / "a", TEXT_OF_DRIVE),
        changed(folder / "b", section, "DefaultValue", str(value)),
    )
    there, back = list(eds_changes((old, 5), (new, 5))), list(eds_changes((new, 5), (old, 5)))
    assert there == [(what, then, now) for what, now, then in back]
    index, _, sub = section.partition("sub")
    assert [what for what, _, _ in there] == [f"{index}h sub {sub}"]
