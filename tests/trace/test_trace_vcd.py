"""Value change dumps: every change at its instant, every line accounted for, a lost line never believed.

The syntax follows IEEE 1364-2005, clause 18 (from memory); the reference is a small reader of tokens written here.
"""

import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import LogError
from interlock.trace import LogFile, QualityKind, load, parts
from interlock.trace.readers import read_log
from interlock.trace.reading import Reading

HEAD = (
    '$timescale 1 us $end\n$scope module logic $end\n$var wire 1 ! EN $end\n$var wire 1 " STEP $end\n'
    "$var wire 4 # POS [3:0] $end\n$var real 64 % U $end\n$upscope $end\n$enddefinitions $end\n"
)
HEAD_LINES = HEAD.count("\n")
BODY = '$dumpvars\n0!\n0"\nb0000 #\nr0.5 %\n$end\n'


def read(file: LogFile) -> Reading:
    reading, source = read_log(file)
    ledger = reading.ledger
    assert ledger.lines_or_objects == ledger.frames + ledger.non_frames + ledger.rejected
    assert ledger.rejected == sum(piece.count for piece in reading.rejected)
    assert source.format == reading.format == "vcd"
    return reading


def dump(tmp_path: Path, body: str, *wanted: str, head: str = HEAD) -> Reading:
    path = tmp_path / "logic.vcd"
    path.write_text(head + body)
    return read(LogFile(path, wanted=wanted))


def samples(reading: Reading, name: str) -> list[tuple[int, float]]:
    (group,) = reading.sampled
    return list(zip(group.times_ns.tolist(), group.values[name].tolist(), strict=True))


def test_changes_and_the_last_instant_before_each(tmp_path: Path) -> None:
    reading = dump(tmp_path, "#0\n" + BODY + '#10\n1!\n#25\n0!\n1"\n#40\n')
    us = 1000
    assert samples(reading, "EN") == [
        (0, 0),
        (9 * us, 0),
        (10 * us, 1),
        (24 * us, 1),
        (25 * us, 0),
        (39 * us, 0),
        (40 * us, 0),
    ]
    assert [value for _, value in samples(reading, "STEP")] == [0, 0, 0, 0, 1, 1, 1]
    assert (reading.resolution_ns, reading.rejected, reading.columns.absolute) == (1000, (), False)
    assert reading.ledger.frames == 11
    assert reading.ledger.non_frames == HEAD_LINES + 2


def test_vectors_and_reals(tmp_path: Path) -> None:
    reading = dump(tmp_path, "#0\n" + BODY + "#1\nb101 #\nr-2.5e1 %\n#2\nbx01 #\n")
    assert [value for _, value in samples(reading, "POS")][:3] == [0, 0, 5]
    assert np.isnan(samples(reading, "POS")[-1][1])
    assert samples(reading, "U")[-1][1] == -25.0


def test_values_before_any_time_stand_at_zero(tmp_path: Path) -> None:
    reading = dump(tmp_path, BODY + "#3\n1!\n")
    assert samples(reading, "EN") == [(0, 0), (2000, 0), (3000, 1)]
    assert reading.columns.places.tolist() == [HEAD_LINES + 2, HEAD_LINES + 7, HEAD_LINES + 7]
    assert (
        reading.ledger.frames == 4 + 2
    )  # the values of the body, one stamp and one change; no stamp that is not there


def test_only_wanted_wires(tmp_path: Path) -> None:
    reading = dump(tmp_path, "#0\n" + BODY + "#1\n1!\n", "EN", "U")
    assert list(reading.sampled[0].values) == ["EN", "U"]


@pytest.mark.parametrize("scale", ["1 ps", "10 ps", "100 fs"])
def test_steps_below_a_nanosecond_are_rounded_down(tmp_path: Path, scale: str) -> None:
    reading = dump(tmp_path, "#0\n0!\n#123456\n1!\n", "EN", head=HEAD.replace("1 us", scale))
    steps = {"1 ps": 123, "10 ps": 1234, "100 fs": 12}[scale]
    assert samples(reading, "EN")[-1] == (steps, 1)
    assert reading.resolution_ns == 1


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("#1x", "a time that is no number"),
        ("#-5", "a time that is no number"),
        ("1?", "neither a time nor a change"),
        ("hello", "neither a time nor a change"),
        ("b10 !", "a value that its wire cannot have"),
        ("r1.0 !", "a value that its wire cannot have"),
        ("b2 #", "a value that its wire cannot have"),
        ("#99999999999999999", "beyond thirty years"),
    ],
)
def test_other_lines_leave_everything_after_them_in_doubt(tmp_path: Path, line: str, reason: str) -> None:
    path = tmp_path / "logic.vcd"
    path.write_text(HEAD + "#0\n" + BODY + "#10\n" + line + "\n1!\n#25\n0!\n")
    (piece,) = read(LogFile(path)).rejected
    assert reason in piece.why
    trace = load([LogFile(path)], None, messages=[])
    doubt = next(one for one in trace.quality if one.kind is QualityKind.UNREADABLE)
    assert doubt.span.hi is None
    assert doubt.span.lo == 9_000  # as late as nothing has changed yet
    assert doubt.place == f"logic.vcd:{HEAD_LINES + 9}"


def test_a_torn_last_line_is_no_evidence(tmp_path: Path) -> None:
    for last in ("#2", "#", "$en", "1", "b1"):  # a time before the one before it has lost digits
        (piece,) = dump(tmp_path, "#0\n" + BODY + "#10\n1!\n" + last).rejected
        assert (piece.kind, piece.until_end) == (QualityKind.TRUNCATED, True)


@pytest.mark.parametrize("size", [None, 30])
@pytest.mark.parametrize(
    "last", ["#10", "#25", "#25\n0!", "$end"], ids=["same", "later", "change", "section"]
)
def test_a_last_line_without_line_end_is_read_if_no_more_can_change_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, last: str, size: int | None
) -> None:
    if size is not None:
        monkeypatch.setattr(parts, "PART", size)
    without, with_end = (dump(tmp_path, "#0\n" + BODY + "#10\n1!\n" + last + end) for end in ("", "\n"))
    assert without.rejected == with_end.rejected == ()
    assert without.ledger == with_end.ledger
    assert without.columns.times_ns.tolist() == with_end.columns.times_ns.tolist()


def test_times_that_run_backwards_are_told(tmp_path: Path) -> None:
    path = tmp_path / "logic.vcd"
    path.write_text(HEAD + "#0\n" + BODY + "#10\n1!\n#5\n0!\n#20\n1!\n")
    kinds = {doubt.kind for doubt in load([LogFile(path)], None, messages=[]).quality}
    assert QualityKind.TIME_BACKWARDS in kinds


def test_a_dump_without_changes_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="without any change"):
        dump(tmp_path, "$comment nothing $end\n")


TIMES = st.lists(
    st.tuples(st.integers(1, 50), st.sampled_from("01xz"), st.sampled_from('!"')), min_size=1, max_size=40
)


@given(TIMES)
def test_at_every_instant_the_value_is_that_of_a_reader_of_tokens(
    tmp_path_factory: pytest.TempPathFactory, changes: list[tuple[int, str, str]]
) -> None:
    now, body = 0, "#0\n" + BODY
    truth: dict[str, list[tuple[int, float]]] = {"!": [(0, 0.0)], '"': [(0, 0.0)]}
    for step, value, code in changes:
        now += step
        body += f"#{now}\n{value}{code}\n"
        truth[code].append((now * 1000, float(value) if value in "01" else float("nan")))
    path = tmp_path_factory.getbasetemp() / "law.vcd"
    path.write_text(HEAD + body)
    reading = read(LogFile(path))
    for code, name in (("!", "EN"), ('"', "STEP")):
        for time, value in samples(reading, name):
            expected = [level for at, level in truth[code] if at <= time][-1]
            assert value == expected or (np.isnan(value) and np.isnan(expected))


@pytest.mark.parametrize("seed", range(60))
def test_damage_is_an_error_or_a_doubt_or_another_dump_of_the_same_form(tmp_path: Path, seed: int) -> None:
    source = random.Random(seed)
    lines = "".join(f'#{n * 7}\n{n % 2}!\n{n // 2 % 2}"\nb{n % 16:04b} #\n' for n in range(200))
    content = bytearray((HEAD + "#0\n" + BODY + lines).encode())
    at, size = source.randrange(len(content)), source.randrange(1, 60)
    content[at : at + size] = source.randbytes(source.choice([0, 1, size]))
    path = tmp_path / "damaged.vcd"
    path.write_bytes(content)
    try:
        read(LogFile(path))
    except LogError as error:
        assert str(path) in str(error)
