"""A draft from recorders whose files hold signals: completed as its errors say, it judges the run."""

import re
from pathlib import Path

import numpy as np
import pytest
from needed import need_extra
from test_look_draft_bench import decided, uncommented

from interlock.bench import load_bench
from interlock.errors import BenchError, InterlockError
from interlock.look import draft, look, write_new
from interlock.look.draft_bench import EXAMPLE
from interlock.look.draft_sources import sampled_names
from interlock.replay import replay
from interlock.verdict import Verdict

LEVELS = {  # ms: wires that change; the hood opens at 1 s, all is off 20 ms later, reset from 4.0 s to 4.5 s
    0: "hood_a=1 hood_b=1 reset=0 permit=1 torque=1",
    1000: "hood_a=0 hood_b=0",
    1020: "permit=0 torque=0",
    3000: "hood_a=1 hood_b=1",
    4000: "reset=1",
    4500: "reset=0",
    4520: "permit=1",
    6000: "torque=1",
    7000: "torque=0",
    8000: "torque=1",
}
MEANT = {
    "hood_a": "hood.a",
    "hood_b": "hood.b",
    "reset": "reset.pressed",
    "permit": "drive.enabled",
    "torque": "drive.torque",
}


def levels() -> list[tuple[int, dict[str, int]]]:
    """The wires at each of their changes, all of them."""
    now: dict[str, int] = {}
    found = []
    for at, text in LEVELS.items():
        now = {**now, **{word.split("=")[0]: int(word.split("=")[1]) for word in text.split()}}
        found.append((at, now))
    return found


def dump(path: Path, late_ms: int = 0) -> Path:
    """A value change dump; with `late_ms` torque goes so much later after the hood was opened."""
    marks = dict(zip(MEANT, "!#$%&", strict=True))
    lines = ["$timescale 1us $end", "$scope module top $end"]
    lines += [f"$var wire 1 {mark} {name} $end" for name, mark in marks.items()]
    lines += ["$upscope $end", "$enddefinitions $end"]
    for at, text in LEVELS.items():
        lines.append(f"#{(at + (late_ms if at == 1020 else 0)) * 1000}")
        lines += [f"{word[-1]}{marks[word[:-2]]}" for word in text.split()]
    path.write_text("\n".join([*lines, "#9000000", ""]))
    return path


def table(path: Path, late_ms: int = 0) -> Path:
    """A scope's table of volts, every 5 ms: 24 V is high."""
    changes, rows, now = levels(), [], {}
    for at in range(0, 9001, 5):
        while changes and changes[0][0] + (late_ms if changes[0][0] == 1020 else 0) <= at:
            now = changes.pop(0)[1]
        rows.append(
            ",".join([f"{at / 1000:.3f}", *(f"{24 * now[name] + 0.01 * (at % 3):.2f}" for name in MEANT)])
        )
    units = ",".join(["s", *("V" for _ in MEANT)])
    path.write_text("\n".join([",".join(["Time", *MEANT]), units, *rows, ""]))
    return path


MADE = {"vcd": ("lines.vcd", dump), "table": ("scope.csv", table)}


def begun(path: Path, target: Path) -> str:
    found = draft(look([path]), None, target)
    write_new(target, found.text)
    with pytest.raises(BenchError) as refused:
        load_bench(target)
    assert len(refused.value.problems) == found.undecided
    return found.text


def completed(text: str) -> str:
    """As a person does who goes by the errors and the comments."""
    for name in EXAMPLE:
        text = re.sub(rf"^{name}: undecided.*\n", lambda _, name=name: uncommented(name), text, flags=re.M)
    text = decided(text).replace("id: undecided?", "id: mine").replace("[undecided]", "mine")
    text = text.replace(
        "{bus_voltage: undecided, max_speed: undecided}", "{bus_voltage: 48 V, max_speed: 1500 1/min}"
    )
    text = text.replace("{least: undecided, most: undecided}", "{least: 0 ms, most: 0 ms}").replace(
        "within: 1 s", "within: 100 ms"
    )
    text = text.replace("high_from: undecided, low_to: undecided", "high_from: 15 V, low_to: 5 V")
    text = re.sub(r"(?ms)^  values:.*", "", text)
    for drafted, meant in MEANT.items():
        text = re.sub(rf"undecided\.{drafted}: undecided ", f"{meant}: ", text)
    return text


@pytest.mark.parametrize(("name", "make"), MADE.values(), ids=MADE.keys())
@pytest.mark.parametrize(("late_ms", "verdict"), [(0, Verdict.PASS), (300, Verdict.FAIL)])
def test_a_completed_draft_judges_the_run(name, make, late_ms, verdict, tmp_path) -> None:
    target = tmp_path / "bench.yaml"
    target.write_text(
        completed(begun(make(tmp_path / name, late_ms), tmp_path / "first.yaml")), encoding="utf-8"
    )
    said = replay(target, load_bench(target), [tmp_path / name])
    told = [
        (str(one.verdict), one.effect, one.sentence)
        for one in said.findings
        if one.verdict is not Verdict.PASS
    ]
    assert said.verdict is verdict, told
    (off,) = [one for one in said.findings if one.effect == "torque_off"]
    assert off.latency is not None
    assert (20 + late_ms) * 10**6 in off.latency


def test_both_recorders_of_one_run_want_a_clock(tmp_path) -> None:
    paths = [dump(tmp_path / "lines.vcd"), table(tmp_path / "scope.csv")]
    text = draft(look(paths), None, tmp_path / "bench.yaml").text
    assert re.findall(r"(?m)^    (\w+):\n      kind: (\w+)", text) == [("lines", "vcd"), ("scope", "table")]
    assert text.count("      clock: undecided") == 1


def test_signals_are_named_once_each_and_as_a_bench_file_wants(tmp_path) -> None:
    path = table(tmp_path / "Scope 1.csv")
    text = path.read_text().replace("hood_a,hood_b", "Hood A (V),Hood-A [V]")
    path.write_text(text)
    words = list(sampled_names(look([path])).values())
    assert len(set(words)) == len(words) == len(MEANT)
    assert all(re.fullmatch(r"[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*", word) for word in words)


def test_frames_without_a_dbc_are_refused_with_what_to_give(tmp_path) -> None:
    path = tmp_path / "a.log"
    path.write_text("".join(f"({1.0 + k / 100:.6f}) can0 120#{k:02X}\n" for k in range(50)))
    with pytest.raises(InterlockError, match="needs the DBC of the bench; add --dbc FILE"):
        draft(look([path]), None, tmp_path / "bench.yaml")


def test_groups_of_channels_of_one_file_share_its_clock_and_are_in_order(tmp_path) -> None:
    asammdf = need_extra("asammdf")
    mdf, times = asammdf.MDF(version="4.10"), np.arange(0, 2.0, 0.005)
    for shift, name in ((0.0, "hood_a"), (0.001, "permit")):
        values = (times < 1.0).astype(np.uint8)
        mdf.append([asammdf.Signal(values, times + shift, name=name)])
    mdf.save(tmp_path / "run.mf4", overwrite=True)
    mdf.close()
    seen = look([tmp_path / "run.mf4"])
    assert seen.doubts == ()
    text = draft(seen, None, tmp_path / "bench.yaml").text
    assert text.count("clock: {drift: 0 ppm, offset: {least: 0 s, most: 0 s}}") == 1
    assert "clock: undecided" not in text
