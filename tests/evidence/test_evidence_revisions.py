"""The file's shape: one revision a signature, nothing uncovered but the signature's own value."""

from pathlib import Path

import pytest
from evidence_forge import hole, with_range, with_value
from hypothesis import given
from hypothesis import strategies as st

from interlock.evidence.check import check_signed
from interlock.evidence.keys import ReportSigner
from interlock.evidence.refusal import Refused
from interlock.evidence.revisions import split


def test_each_revision_begins_where_the_one_before_ends(signed_twice: Path, demo: Path) -> None:
    data = signed_twice.read_bytes()
    first, second = split(data)
    assert first.start == demo.stat().st_size
    assert first.end == second.start
    assert second.end == len(data)


def test_what_is_covered_and_the_hole_make_up_the_whole_file(signed_twice: Path) -> None:
    """ISO 32000-1, 12.8.1: the ByteRange covers all but the Contents value."""
    data = signed_twice.read_bytes()
    for revision in split(data):
        before, after = map(bytes, revision.covered(data))
        start, end = revision.hole
        assert before + data[start:end] + after == data[: revision.end]
        assert data[start:end] == b"<" + revision.contents.hex().upper().encode() + b">"
        assert revision.byte_range == (0, len(before), end, len(after))


def test_the_document_under_the_signatures_is_untouched(demo: Path, signed_twice: Path) -> None:
    assert signed_twice.read_bytes().startswith(demo.read_bytes())


# a forger with a key of his own signs less than the whole


@pytest.mark.parametrize(("lead", "trail"), [(-1, 0), (-40, 0), (0, 1), (0, 60), (-5, 5)])
def test_a_wider_hole_is_refused(signed_once: Path, tess: ReportSigner, lead: int, trail: int) -> None:
    data = signed_once.read_bytes()
    start, end = hole(data)
    forged = with_range(data, (0, start + lead, end + trail, len(data) - end - trail), tess)
    with pytest.raises(Refused, match="something else"):
        check_signed(forged)


@pytest.mark.parametrize("short", [1, 7, 100])
def test_a_range_that_ends_early_is_refused(signed_once: Path, tess: ReportSigner, short: int) -> None:
    data = signed_once.read_bytes()
    start, end = hole(data)
    forged = with_range(data, (0, start, end, len(data) - end - short), tess)
    with pytest.raises(Refused, match="up to the end"):
        check_signed(forged)


def test_a_range_that_begins_late_is_refused(signed_once: Path, tess: ReportSigner) -> None:
    data = signed_once.read_bytes()
    start, end = hole(data)
    with pytest.raises(Refused, match="state what it covers"):
        check_signed(with_range(data, (9, start - 9, end, len(data) - end), tess))


def test_the_true_range_signed_anew_is_accepted(signed_once: Path, tess: ReportSigner) -> None:
    """So that the tests above fail for the reason that they name."""
    data = signed_once.read_bytes()
    start, end = hole(data)
    assert check_signed(with_range(data, (0, start, end, len(data) - end), tess)).signatures


def test_a_hole_in_an_earlier_revision_is_refused(signed_twice: Path, otto: ReportSigner) -> None:
    data = signed_twice.read_bytes()
    first, second = split(data)
    stated = (0, first.hole[0], first.hole[1], len(data) - first.hole[1])
    with pytest.raises(Refused):
        check_signed(with_range(data, stated, otto))
    assert second.hole[0] > first.end


@pytest.mark.parametrize("zeros", ["0" * 4, "00 0", "g000"])
def test_padding_is_zeros_without_space(signed_once: Path, zeros: str) -> None:
    data = signed_once.read_bytes()
    _, end = hole(data)
    changed = data[: end - 5] + zeros.encode() + data[end - 1 :]
    if changed != data:
        with pytest.raises(Refused):
            split(changed)


def test_another_signatures_value_is_refused(signed_once: Path, signed_twice: Path) -> None:
    other = split(signed_twice.read_bytes())[1].contents.rstrip(b"\0")
    with pytest.raises(Refused, match="changed"):
        check_signed(with_value(signed_once.read_bytes(), other))


@given(
    st.lists(
        st.sampled_from([b"%%EOF\n", b"startxref\n1\n", b"/ByteRange [0 9 20 3]", b"<00>", b"/Contents "])
    )
)
def test_pieces_of_a_report_in_any_order_are_refused(pieces: list[bytes]) -> None:
    with pytest.raises(Refused):
        split(b"%PDF-1.7\n" + b"".join(pieces))
