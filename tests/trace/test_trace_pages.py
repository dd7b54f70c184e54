"""A multiplexed message that somebody decoded before: a group for each page, read as its frames are.

Oracle: the same frames as a candump log, which the reader of frames decodes; and asammdf, which writes such groups.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import can
import numpy as np
import pytest
from needed import need_extra

from interlock.errors import LogError
from interlock.trace import Expected, QualityKind, Trace, load, load_dbc
from interlock.trace.decoded import as_messages
from interlock.trace.gather import gather, streams_of
from interlock.trace.model import Ledger
from interlock.trace.reading import Reading, Sampled
from interlock.trace.sampled import sampled_reading
from interlock.trace.wanted import signals_of

DBC: Final = """VERSION ""
NS_ :
BS_:
BU_: A
BO_ 288 Pages: 8 A
 SG_ Page M : 0|3@1+ (1,0) [0|7] "" A
 SG_ Left m0 : 8|16@1- (0.5,0) [-4000|4000] "A" A
 SG_ Right m1 : 8|16@1- (0.5,0) [-4000|4000] "A" A
 SG_ Always : 24|8@1+ (1,0) [0|255] "" A
BO_ 513 Beside: 8 A
 SG_ Flow : 0|16@1- (0.01,0) [-300|300] "" A
"""
ROWS: Final = 60
MS: Final = 1_000_000
Values = dict[str, tuple[list[int], list[float]]]
PAGE, ALWAYS, LEFT, RIGHT = ("Page",), ("Always",), ("Left",), ("Right",)


def frames() -> list[tuple[int, int, bytes]]:
    """Stamp in ns, identifier and payload: a page in turn, and another message between them."""
    found = []
    for row in range(ROWS):
        value = (row * 37 - 900).to_bytes(2, "little", signed=True)
        ident, data = (513, value) if row % 3 == 2 else (288, bytes([row % 2]) + value + bytes([row]))
        found.append((row * 2 * MS, ident, data.ljust(8, b"\0")))
    return found


def groups(*split: Sequence[str]) -> list[Sampled]:
    """What is in the frames, as groups with these signals each; the other message stands second."""
    mine = [(at, data) for at, ident, data in frames() if ident == 288]
    number = [int.from_bytes(data[1:3], "little", signed=True) * 0.5 for _, data in mine]
    each = {
        "Page": [float(data[0]) for _, data in mine],
        "Always": [float(data[3]) for _, data in mine],
        "Left": number,
        "Right": number,
    }
    found = []
    for names in split:
        pages = {{"Left": 0, "Right": 1}.get(name) for name in names}
        (page,) = pages
        here = [row for row, (_, data) in enumerate(mine) if page is None or data[0] == page]
        values = {name: np.array(each[name])[here] for name in names}
        found.append(sampled("Pages", np.array([at for at, _ in mine])[here], values))
    flow = [
        (at, int.from_bytes(data[:2], "little", signed=True) * 0.01)
        for at, ident, data in frames()
        if ident == 513
    ]
    beside = sampled("Beside", np.array([at for at, _ in flow]), {"Flow": np.array([one for _, one in flow])})
    return [found[0], beside, *found[1:]]


def sampled(name: str, times: np.ndarray, values: dict[str, np.ndarray]) -> Sampled:
    return Sampled(name, times, values, {}, continuous=False, group=name)


def reading_of(parts: Sequence[Sampled], start_ns: int | None = None) -> Reading:
    rows = sum(len(one.times_ns) for one in parts)
    return sampled_reading("mf4", parts, np.arange(rows), Ledger(rows, rows, 0, 0), start_ns=start_ns)


def decoded(folder: Path, *readings: Reading) -> Values:
    layouts = load_dbc(dbc(folder))
    paths = [Path(f"{number}.mf4") for number in range(len(readings))]
    said = [as_messages(one, path, layouts) for one, path in zip(readings, paths, strict=True)]
    log = gather(paths, said)
    streams, unknown = streams_of(log, layouts)
    assert unknown == ()
    return {
        f"{name}.{key}": (one.times_ns.tolist(), one.values.tolist())
        for name, stream in streams.items()
        for key, rows, one in signals_of(log, stream, [])
        if len(rows) == len(one.values) and (log.times_ns[rows] == one.times_ns).all()
    }


def dbc(folder: Path) -> Path:
    path = folder / "pages.dbc"
    path.write_text(DBC, encoding="ascii")
    return path


def framed(folder: Path, *, without: range = range(0)) -> Trace:
    log = folder / "run.log"
    lines = [
        f"({at / 1e9:.6f}) can0 {ident:03X}#{data.hex()}\n"
        for at, ident, data in frames()
        if at // MS not in without
    ]
    log.write_text("".join(lines), encoding="ascii")
    return load([log], dbc(folder), messages=[])


def of(trace: Trace) -> Values:
    return {name: (one.times_ns.tolist(), one.values.tolist()) for name, one in trace.signals.items()}


@pytest.mark.parametrize(
    "split",
    [
        ((*PAGE, *ALWAYS), LEFT, RIGHT),  # as asammdf writes them
        (RIGHT, (*ALWAYS, *PAGE), LEFT),
        (LEFT, RIGHT, PAGE, ALWAYS),
        (PAGE, ALWAYS, RIGHT, LEFT),
    ],
    ids=lambda split: "-".join(one[0] for one in split),
)
def test_pages_read_as_their_frames_do(tmp_path: Path, split: tuple[tuple[str, ...], ...]) -> None:
    assert decoded(tmp_path, reading_of(groups(*split))) == of(framed(tmp_path))


def test_pages_need_no_selector(tmp_path: Path) -> None:
    expected = {name: one for name, one in of(framed(tmp_path)).items() if name != "Pages.Page"}
    assert decoded(tmp_path, reading_of(groups(LEFT, RIGHT, ALWAYS))) == expected


def test_pages_of_two_dated_files_are_put_on_one_time_base(tmp_path: Path) -> None:
    """The second file begins 1 s after the first by its date, and its stamps count from there."""
    first, beside, second = groups(LEFT, (*PAGE, *ALWAYS))
    later = reading_of([replace(second, times_ns=second.times_ns - 1000 * MS)], 2_000 * MS)
    got = decoded(tmp_path, reading_of([first, beside], 1_000 * MS), later)
    expected = {name: one for name, one in of(framed(tmp_path)).items() if name != "Pages.Right"}
    assert got == expected


def test_rows_that_cannot_be_told_apart_are_not_put_together(tmp_path: Path) -> None:
    """Two frames with one stamp: which page's values belong to which of them nobody can say."""
    first, beside, second = groups(LEFT, RIGHT)
    times = second.times_ns.copy()
    times[3] = times[2]
    layouts = load_dbc(dbc(tmp_path))
    said = as_messages(reading_of([first, beside, replace(second, times_ns=times)]), Path("a.mf4"), layouts)
    assert [one.described is None for one in said.sampled] == [True, False, True]


def test_the_same_message_in_two_files_is_no_page(tmp_path: Path) -> None:
    whole = reading_of(groups((*PAGE, *ALWAYS), LEFT, RIGHT), 1_000 * MS)
    with pytest.raises(LogError, match="two sources bear the name"):
        decoded(tmp_path, whole, replace(whole))


def by_asammdf(folder: Path, *, without: range = range(0)) -> tuple[Path, Path]:
    """The frames in an MF4 file of python-can's, and what asammdf decodes of them."""
    asammdf = need_extra("asammdf")
    raw, path = folder / "frames.mf4", folder / "decoded.mf4"
    with can.MF4Writer(raw) as writer:
        begin = writer.last_timestamp
        for at, ident, data in frames():
            if at // MS not in without:
                stamp = begin + at / 1e9
                writer.on_message_received(
                    can.Message(
                        timestamp=stamp, arbitration_id=ident, is_extended_id=False, data=data, channel=0
                    )
                )
    with asammdf.MDF(raw) as mdf, mdf.extract_bus_logging({"CAN": [(str(dbc(folder)), 0)]}) as found:
        found.save(path, overwrite=True)
    return raw, path


def test_what_asammdf_makes_of_pages_reads_as_the_frames_do(tmp_path: Path) -> None:
    raw, path = by_asammdf(tmp_path)
    by_frames, by_signals = (load([one], dbc(tmp_path), messages=[]) for one in (raw, path))
    assert of(by_signals) == of(by_frames)
    assert set(by_signals.messages) == {"Pages", "Beside"}
    assert by_signals.quality == ()


def test_a_hole_in_one_page_is_a_hole_as_of_the_frames(tmp_path: Path) -> None:
    stated = [Expected("Pages", 9 * MS, 3 * MS, evidence=frozenset({"Right"}))]
    holes = [
        [(one.kind, one.signal, one.span) for one in load([log], dbc(tmp_path), messages=stated).quality]
        for log in by_asammdf(tmp_path, without=range(30, 60))
    ]
    assert holes[0] == holes[1]
    assert QualityKind.GAP in {kind for kind, _, _ in holes[0]}
