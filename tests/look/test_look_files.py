"""Each line or object of a file ends as a frame, as a known non-frame or as a finding; the counts add up."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from look_material import DATA, candump, counting

from interlock.errors import LogError
from interlock.look import look
from interlock.look.files import MOST_LISTED
from interlock.trace.model import QualityKind


def adds_up(file) -> bool:
    return file.frames + file.non_frames + sum(one.count for one in file.findings) == file.lines_or_objects


@pytest.mark.parametrize("name", ["short.log", "short.asc", "short.blf", "short.csv"])
def test_the_counts_of_each_format_add_up(name):
    (file,) = look([DATA / name]).files
    assert adds_up(file)
    assert not file.findings
    assert file.frames > 700


def test_lines_of_candump_are_counted_as_wc_counts_them():
    (file,) = look([DATA / "short.log"]).files
    assert file.lines_or_objects == (DATA / "short.log").read_bytes().count(b"\n")


def test_each_broken_line_is_a_finding_with_its_number(tmp_path):
    extra = {3: "junk", 4: "(1790000000.1) can0 zz", 9: "more junk"}
    (file,) = look([candump(tmp_path / "a.log", counting(20), extra=extra)]).files
    assert adds_up(file)
    assert [(one.place, one.place_is, one.count) for one in file.findings] == [
        (4, "line", 1),
        (6, "line", 1),
        (12, "line", 1),
    ]
    assert all(one.why and one.kind is QualityKind.UNREADABLE for one in file.findings)


def test_neighbouring_broken_lines_are_listed_one_by_one(tmp_path):
    extra = {3: "junk\njunk\njunk"}
    (file,) = look([candump(tmp_path / "a.log", counting(20), extra=extra)]).files
    assert [(one.place, one.count) for one in file.findings] == [(4, 1), (5, 1), (6, 1)]


def test_very_many_broken_lines_are_told_together(tmp_path):
    extra = {3: "\n".join(["junk"] * (MOST_LISTED + 1))}
    (file,) = look([candump(tmp_path / "a.log", counting(20), extra=extra)]).files
    assert adds_up(file)
    assert [(one.place, one.count) for one in file.findings] == [(4, MOST_LISTED + 1)]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from(["short.log", "short.asc", "short.blf"]))
def test_damaged_files_add_up_too(tmp_path_factory, seed, name):
    rng = np.random.default_rng(seed)
    content = bytearray((DATA / name).read_bytes())
    content = content[: int(rng.integers(2000, len(content)))]
    for at in rng.integers(400, len(content), 5).tolist():
        content[at] ^= 1 << int(rng.integers(8))
    path = tmp_path_factory.mktemp("damaged") / name
    path.write_bytes(content)
    try:
        (file,) = look([path]).files
    except LogError as refused:  # nothing in it could be read at all
        assert name in str(refused)
    else:
        assert adds_up(file)
