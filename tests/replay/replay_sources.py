"""A run of the sample bench recorded by several recorders, each with a clock of its own, and what truly happened.

The CAN log and the lines come from `tests/loggen`, which shares nothing with the package; a recorder's clock is
applied to its stamps here: stamp = (true time - begin) * (1 - ppm / 1e6).
"""

import functools
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import loggen
import numpy as np
from loggen_script import Script, script
from numpy.typing import NDArray
from replay_tape import BENCH_FILE

from interlock.bench import Bench, load_bench
from interlock.replay import Finding, Judgement, replay

LINES: Final = {"sto_drive": "END", "sto_load": "ENL"}  # signal of the scope: line of the script
UNITS: Final = {"sto_drive": "drive", "sto_load": "load"}
FUNCTION: Final = {"cover": "cover_stop", "button": "button_stop", "emergency": "emergency_stop"}
TEXT: Final = BENCH_FILE.read_text(encoding="utf-8")

SCOPE: Final = """\
    scope:
      kind: table
      table: {time: Time, units: 2}
      period: 1 ms
      longest_gap: 5 ms
      stamp_delay: {least: 0 ms, most: 0 ms}
      signals:
        sto_drive: {from: CH1, unit: V, high_from: 15 V, low_to: 5 V}
        sto_load: {from: CH2, unit: V, high_from: 15 V, low_to: 5 V}
      clock: CLOCK
"""
CHANGES: Final = """\
    scope:
      kind: KIND
      stamp_delay: {least: 0 ms, most: 0 ms}
      signals: {sto_drive: sto_drive, sto_load: sto_load}
      clock: CLOCK
"""
EDGE: Final = (
    "{drift: 100 ppm, edges: [{here: scope.sto_drive is 1, there: SAFE_State.TorqueEnableDrv is 1}]}"
)


@dataclass(frozen=True)
class Run:
    """One run: the CAN log as text, and its truth."""

    can: str
    truth: dict[str, Any]
    script: Script

    def fall_ns(self, line: str, demand: dict[str, Any]) -> int:
        """From a demand to the fall of the line."""
        on = demand["demand_s"]
        fall = min(at for at, value in self.script.steps[LINES[line]] if value == 0 and at > on)
        return round((fall - on) * 1e9)


@functools.cache
def run(seed: int = 5, defect: str = "", **how: float) -> Run:
    """A run of the second generator, six stops."""
    text, truth = loggen.make(seed, defect, **how)
    return Run(text, truth, script(seed, how.get("rpm", 1440.0), defect))


@dataclass(frozen=True)
class Recorder:
    """A scope: from when to when it recorded (true seconds), and how its clock ran."""

    begin_s: float = -0.2
    end_s: float = 60.7
    period_s: float = 0.001
    ppm: float = 0.0
    zero_s: float = 0.0  # its first stamp
    pulses_s: tuple[float, ...] = ()  # when it saw a test pulse that the CAN log cannot show

    def stamps(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """True instants of its samples, and their stamps."""
        own = np.arange(0.0, (self.end_s - self.begin_s) * (1 - self.ppm / 1e6), self.period_s)
        return self.begin_s + own / (1 - self.ppm / 1e6), self.zero_s + own

    def volts(self, script_: Script, line: str, true_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """24 V while the line is on, with noise of a volt; 0 V for 3 ms in each of its test pulses."""
        rng = np.random.default_rng(7)
        on = script_.at(LINES[line], true_s) > 0
        for at in self.pulses_s:
            on &= ~((true_s >= at) & (true_s < at + 0.003))
        return 24.0 * on + rng.uniform(-1, 1, len(true_s))


def scope_csv(one: Run, recorder: Recorder, path: Path, *, lines: tuple[str, ...] = tuple(LINES)) -> Path:
    """The lines as a scope exports them: headings, units, a row a sample."""
    true_s, stamps = recorder.stamps()
    columns = [stamps, *(recorder.volts(one.script, line, true_s) for line in lines)]
    head = f"Time,{','.join(f'CH{k + 1}' for k in range(len(lines)))}\nSecond,{','.join('V' for _ in lines)}"
    form = ["%.4f" if recorder.period_s * 1e4 % 1 == 0 else "%.7f", *("%.2f" for _ in lines)]
    np.savetxt(path, np.column_stack(columns), fmt=form, delimiter=",", header=head, comments="")
    return path


def changes(one: Run, recorder: Recorder) -> list[tuple[int, dict[str, int]]]:
    """Stamp in microseconds and the new levels at each change of a line, the levels at its begin first."""
    found = {}
    for line, name in LINES.items():
        for at, value in one.script.steps[name]:
            if recorder.begin_s < at < recorder.end_s:
                stamp = recorder.zero_s + (at - recorder.begin_s) * (1 - recorder.ppm / 1e6)
                found.setdefault(round(stamp * 1e6), {})[line] = int(value)
    first = {line: int(one.script.at(name, np.array([recorder.begin_s]))[0]) for line, name in LINES.items()}
    return [(round(recorder.zero_s * 1e6), first), *sorted(found.items())]


def lines_vcd(one: Run, recorder: Recorder, path: Path) -> Path:
    """The lines as a logic analyser dumps their changes; it does not say when it stopped."""
    codes = dict(zip(LINES, "ab", strict=True))
    wires = "".join(f"$var wire 1 {code} {line} $end\n" for line, code in codes.items())
    body = "".join(
        f"#{us}\n" + "".join(f"{level}{codes[line]}\n" for line, level in new.items())
        for us, new in changes(one, recorder)
    )
    path.write_text(f"$timescale 1 us $end\n{wires}$enddefinitions $end\n{body}")
    return path


def lines_table(one: Run, recorder: Recorder, path: Path) -> Path:
    """The lines as a logic analyser exports a table: a row for each change."""
    levels: dict[str, int] = {}
    rows = []
    for us, new in changes(one, recorder):
        levels.update(new)
        rows.append(f"{us / 1e6:.6f},{','.join(str(levels[line]) for line in LINES)}\n")
    path.write_text(f"Time [s],{','.join(LINES)}\n{''.join(rows)}")
    return path


def with_sources(
    sources: str, folder: Path, *changes: tuple[str, str], lines: bool = True
) -> tuple[Path, Bench]:
    """The sample bench with these sources beside the CAN log; `lines`: its enable lines are shown by the scope."""
    logger = "  sources:\n    logger: {kind: can}\n"
    text = TEXT.replace("  messages:\n", f"{logger}{sources}  messages:\n", 1)
    for unit, name in (("drive", "Drv"), ("load", "Lod")) if lines else ():
        old = f"{unit}.enabled: SAFE_State.TorqueEnable{name} is 1"
        text = text.replace(old, f"{unit}.enabled: scope.sto_{unit} is 1")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    file = folder / "bench.yaml"
    file.write_text(text, encoding="utf-8")
    shutil.copy(BENCH_FILE.parent / "bench.dbc", folder)
    return file, load_bench(file)


def judged(
    one: Run, recorder: Recorder, folder: Path, clock: str = EDGE, *changes: tuple[str, str]
) -> Judgement:
    """What the package says of the run by its CAN log and a scope."""
    file, bench = with_sources(SCOPE.replace("CLOCK", clock), folder, *changes)
    log = folder / "run.log"
    log.write_text(one.can, newline="\n")
    return replay(file, bench, [log, scope_csv(one, recorder, folder / "scope.csv")])


def enable_off(one: Run, said: Judgement, line: str) -> list[tuple[int, Finding]]:
    """For each true stop: how long the line truly took, and the finding about it."""
    start = said.observation.trace.start_ns - loggen.EPOCH * 10**9
    found = []
    for demand in one.truth["demands"]:
        onset = round(demand["demand_s"] * 1e9) - start
        (finding,) = [
            each
            for each in said.findings
            if (each.effect, each.subject) == ("enable_off", UNITS[line])
            and each.function == FUNCTION[demand["what"]]
            and each.demand is not None
            and onset in each.demand
        ]
        found.append((one.fall_ns(line, demand), finding))
    return found
