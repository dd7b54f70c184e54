"""Signals that come only in some frames of their message: each must come in time by itself to be evidence.

The log is of `tests/loggen`, which shares nothing with the package; the drive unit's frames get a page number, and
its current stands on page 0 only, as DBC files have it (multiplexed signals).
"""

from collections.abc import Callable
from pathlib import Path
from typing import Final

import loggen
import pytest
from replay_tape import BENCH_FILE

from interlock.bench import load_bench
from interlock.errors import InterlockError
from interlock.replay import Judgement, replay
from interlock.verdict import Verdict

DBC: Final = (BENCH_FILE.parent / "bench.dbc").read_text(encoding="cp1252")
PAGED: Final = DBC.replace(
    " SG_ DrvCurrent :", ' SG_ Page M : 48|8@1+ (1,0) [0|3] "" LOG\n SG_ DrvCurrent m0 :'
)
TEXT, TRUTH = loggen.make(5)
FIRST_STOP: Final = TRUTH["demands"][0]["demand_s"]  # type: ignore[index]
DRV: Final = " 201#"


def paged(
    page: Callable[[int, float], int], current: Callable[[float], float | None] = lambda _: None
) -> str:
    """The log with a page in each of the drive unit's frames, by their number and second; perhaps other currents."""
    rows, number = [], 0
    for row in TEXT.splitlines():
        if DRV in row:
            at = float(row[1 : row.index(")")]) - loggen.EPOCH
            head, data = row.split("#")
            frame = bytearray(bytes.fromhex(data.removesuffix(" R")))
            frame[6], amps = page(number, at), current(at)
            if amps is not None:
                frame[4:6] = round(100 * amps).to_bytes(2, "big", signed=True)
            number += 1
            rows.append(f"{head}#{frame.hex().upper()} R")
        else:
            rows.append(row)
    return "\n".join(rows) + "\n"


def judged(log: str, folder: Path, dbc: str = PAGED, *changes: tuple[str, str]) -> Judgement:
    text = BENCH_FILE.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    bench = folder / "bench.yaml"
    bench.write_text(text, encoding="utf-8")
    (folder / "bench.dbc").write_text(dbc, encoding="cp1252")
    (folder / "run.log").write_text(log, newline="\n")
    return replay(bench, load_bench(bench), [folder / "run.log"])


def not_passed(said: Judgement) -> set[tuple[str, str]]:
    return {(one.subject, one.effect) for one in said.findings if one.verdict is not Verdict.PASS}


@pytest.mark.parametrize("every", [2, 3])
def test_a_signal_that_comes_often_enough_is_evidence(every: int, tmp_path: Path) -> None:
    said = judged(paged(lambda number, _: 0 if number % every == 0 else 1), tmp_path)
    assert said.verdict is Verdict.PASS, not_passed(said)


def test_torque_may_hide_while_the_current_does_not_come(tmp_path: Path) -> None:
    """All frames come in time, but for a second of a stop none of them holds the current."""
    lo, hi = FIRST_STOP + 1.0, FIRST_STOP + 2.0

    def pulse(at: float) -> float | None:
        return 5.0 + at * 1000 % 7 / 100 if lo < at < hi else None

    assert judged(paged(lambda _number, _at: 0, pulse), tmp_path).verdict is Verdict.FAIL
    hidden = paged(lambda _number, at: 1 if lo < at < hi else 0, pulse)
    said = judged(hidden, tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert ("drive", "stays_off") in not_passed(said)
    (told,) = [one.sentence for one in said.findings if one.effect == "data_complete"]
    assert "DRV_Actual came without DrvCurrent for up to 100" in told
    assert "the bench allows 17.5 ms" in told


def test_a_current_that_never_comes_shows_nothing(tmp_path: Path) -> None:
    said = judged(paged(lambda _number, _at: 1), tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert {("drive", effect) for effect in ("torque_off", "stays_off", "restart")} <= not_passed(said)


def test_a_sender_that_froze_is_seen_by_each_of_its_pages(tmp_path: Path) -> None:
    """Page by page the payload stands, speed and all, though neighbours differ: a frozen speed proves nothing."""
    held: dict[int, str] = {}
    rows = []
    for row in paged(lambda number, _: number % 2).splitlines():
        at = float(row[1 : row.index(")")]) - loggen.EPOCH
        head, data = row.split("#")
        if DRV in row and FIRST_STOP + 0.5 < at < FIRST_STOP + 2.9:
            data = held.setdefault(int(data[12:14], 16), data)
        rows.append(f"{head}#{data}")
    said = judged("\n".join(rows) + "\n", tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert ("shaft", "standstill") in not_passed(said)


def test_what_nothing_is_judged_by_may_stay_away(tmp_path: Path) -> None:
    dbc = PAGED.replace(" SG_ DrvStatus :", ' SG_ Spare m3 : 56|8@1+ (1,0) [0|255] "" LOG\n SG_ DrvStatus :')
    assert judged(paged(lambda _number, _at: 0), tmp_path, dbc).verdict is Verdict.PASS


def test_signals_of_different_frames_make_no_condition(tmp_path: Path) -> None:
    dbc = DBC.replace(
        " SG_ SpeedRef :", ' SG_ Page M : 32|8@1+ (1,0) [0|1] "" LOG\n SG_ SpeedRef m0 :'
    ).replace(" SG_ TorqueRef :", " SG_ TorqueRef m1 :")
    with pytest.raises(InterlockError, match="SpeedRef and TorqueRef of CTL_Refs come in different frames"):
        judged(TEXT, tmp_path, dbc)
