"""From lines to a reading: the ledger, the time base, payloads of both widths."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trace_kit import payloads

from interlock.errors import LogError
from interlock.trace.bulk import tabulate
from interlock.trace.candump import _grammar
from interlock.trace.lines import split
from interlock.trace.model import QualityKind
from interlock.trace.reading import Reading
from interlock.trace.text import TimeBase, dated, part_of

PATH = Path("a.log")


def reading(text: bytes, base: TimeBase = TimeBase.GUESS) -> Reading:
    lines = split(text)
    return dated(PATH, part_of("candump", lines, tabulate(lines, _grammar)), base)


def stamped(*stamps_us: int) -> bytes:
    return b"".join(b"(%d.%06d) c 120#00\n" % divmod(us, 10**6) for us in stamps_us)


@given(
    st.lists(
        st.sampled_from(
            [
                b"(1790000000.1) c 120#00",
                b"junk",
                b"",
                b"  ",
                b"(1790000000.1) c 120#R",
                b"(1790000000.1) c 820#",
            ]
        ),
        max_size=40,
    )
)
def test_counts_add_up_to_the_lines(lines: list[bytes]) -> None:
    text = b"".join(line + b"\n" for line in lines)
    frames, rejected = (
        lines.count(b"(1790000000.1) c 120#00"),
        lines.count(b"junk") + lines.count(b"(1790000000.1) c 820#"),
    )
    if not frames:
        with pytest.raises(LogError):
            reading(text)
        return
    ledger = reading(text).ledger
    assert (ledger.lines_or_objects, ledger.frames, ledger.rejected) == (len(lines), frames, rejected)
    assert ledger.non_frames == len(lines) - frames - rejected
    assert reading(text).columns.places.tolist() == [
        n for n, line in enumerate(lines, 1) if line.endswith(b"c 120#00")
    ]


@pytest.mark.parametrize("sizes", [(1, 2), (8, 12), (64, 0), (12, 8, 1)])
def test_payloads_of_all_lengths_stay_in_their_rows(sizes: tuple[int, ...]) -> None:
    sent = [bytes((n + k) & 255 for k in range(size)) for n, size in enumerate(sizes * 9)]
    text = b"".join(b"(1790000000.0) c 120##0" + data.hex().encode() + b"\n" for data in sent)
    assert payloads(reading(text).columns) == sent


@pytest.mark.parametrize(
    ("stamps_us", "kinds", "absolute"),
    [
        ((1_790_000_000_000_000, 1_790_000_000_000_500), [], True),
        ((1_790_000_000_000_000, 1_790_000_000_000_000), [], True),
        ((0, 500, 1000, 1000, 1700), [], False),
        ((500,), [], False),
        ((500, 500, 500, 500), [QualityKind.TIME_RELATIVE], False),
        ((500, 400, 600), [QualityKind.TIME_RELATIVE], False),
    ],
)
def test_guessed_time_base(stamps_us: tuple[int, ...], kinds: list[QualityKind], absolute: bool) -> None:
    found = reading(stamped(*stamps_us))
    assert [piece.kind for piece in found.rejected] == kinds
    assert found.columns.absolute == absolute


def test_one_damaged_stamp_does_not_make_an_absolute_log_relative() -> None:
    start = 1_790_000_000_000_000
    found = reading(stamped(start, 790_000_000_000, start + 500))
    assert found.columns.absolute
    assert not found.rejected


@pytest.mark.parametrize("base", [TimeBase.SINCE_1970, TimeBase.SINCE_START])
def test_stated_time_base_is_taken_as_stated(base: TimeBase) -> None:
    found = reading(stamped(5, 4, 3), base)
    assert found.columns.absolute == (base is TimeBase.SINCE_1970)
    assert not found.rejected


def test_error_names_file_line_and_reason_of_the_first_bad_line() -> None:
    with pytest.raises(LogError, match=r"a\.log:2: .*decimal comma"):
        reading(b"\n(1790000000,1) c 120#00\n")


def test_columns_have_the_types_that_the_model_says() -> None:
    columns = reading(stamped(1, 2, 3)).columns
    assert columns.times_ns.dtype == np.int64
    assert columns.idents.dtype == np.uint32
    assert columns.extended.dtype == np.bool_
    assert columns.lengths.dtype == columns.data.dtype == np.uint8
    assert columns.channels.dtype == np.uint16
    assert columns.place_is == "line"
