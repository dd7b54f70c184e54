"""Random acts on a bench in the chain's reference interpreter, written down as a log.

What the required section forbids is looked up on the way itself, by the observers of the chain; the log is then
judged by replay, which knows nothing of them. Every act comes half a second after the one before it, lines and units
follow within a few milliseconds, so time plays no part.
"""

import random
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from chain_walk import Walk
from loggen_rig import Rig, signal

from interlock.bench import Bench, kinds_of, load_bench
from interlock.bench.expr import And, Const, Expr, Name, Or, names
from interlock.chain import ir, reference
from interlock.chain.observers import latched, mode_changed
from interlock.interval import Interval
from interlock.replay import Judgement, judge_trace
from interlock.replay.modes import MODE_CHANGE
from interlock.trace import Samples, Trace
from interlock.trace.model import Quality, QualityKind

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"
WIDE = Path(__file__).with_name("replay_wide.yaml")
STEP_S, LINE_S, TORQUE_S = 0.5, 0.02, 0.045
Pair = tuple[str, str]


@cache
def bench_of(shape: str, *changed: tuple[str, str]) -> Bench:
    """The shape, without the rules that two contacts change at the same time, with pieces of its text changed."""
    file = WIDE if shape == "wide" else SHAPES / f"{shape}.yaml"
    text = file.read_text(encoding="utf-8")
    for old, new in (
        *changed,
        ("      channels: {within: 50 ms, source: risk assessment of the bench}\n", ""),
    ):
        text = text.replace(old, new)
    with TemporaryDirectory() as here:
        folder = Path(here)
        (folder / "plain.yaml").write_text(text, encoding="utf-8")
        rig = rig_of(load_bench(folder / "plain.yaml"))
        (folder / "rig.dbc").write_text(rig.dbc(), encoding="ascii")
        (folder / "shown.yaml").write_text(text + rig.shows(), encoding="utf-8")
        return load_bench(folder / "shown.yaml")


def rig_of(bench: Bench) -> Rig:
    """What the log shows: demands, modes, buttons; lines and torque of the units."""
    units, kinds = bench.required.effects.torque_off.of, kinds_of(bench)
    ports = [f"{name}.pressed" for name, one in bench.devices.items() if "pressed" in kinds[one.kind].outputs]
    for function in bench.required.functions.values():
        demand = kinds[bench.devices[function.demand].kind].demand
        ports += [f"{function.demand}.{name}" for name in sorted(names(demand))] if demand else []
    if bench.required.modes is not None:
        ports += [
            port for mode in bench.required.modes.each.values() for port in sorted(names(mode.selected))
        ]
    dumb = tuple(
        f"{unit}.enabled" for unit in units if "enabled" not in kinds[bench.devices[unit].kind].outputs
    )
    return Rig(dict.fromkeys(ports, False), {}, lines=dict.fromkeys(units, lambda _: False), hidden=dumb)


def rewired(bench: Bench, rng: random.Random) -> Bench:
    """One input of the bench wired wrongly, both of its channels alike."""
    wiring = dict(bench.wiring)
    port = rng.choice([one for one in wiring if not one.endswith(".supply")])
    pair = [port, f"{port[:-2]}_b"] if port.endswith("_a") and f"{port[:-2]}_b" in wiring else [port]
    others = sorted({name for expr in wiring.values() for name in names(expr)})
    other, how = rng.choice(others), rng.randrange(3)
    for one in pair:
        expr = wiring[one]
        wrong: Expr = Or((expr, Name(other)))
        if how and isinstance(expr, And):
            wrong = And(expr.parts[:-1]) if how == 1 else And(expr.parts[1:])
        elif how:
            wrong = Const(True)
        wiring[one] = wrong
    return bench.model_copy(update={"wiring": wiring})


class Taken:
    """A random walk: its log, and what it violates by function and unit, as the chain's observers see it."""

    def __init__(self, bench: Bench, rng: random.Random, steps: int) -> None:
        self.bench, self._walk, self._rig, self._now = bench, Walk(bench), rig_of(bench), 1.0
        self.forbidden: set[Pair] = set()
        self.started: set[str] = set()  # units that began to make torque though nobody started them
        self.changed: set[str] = set()  # units that the change of the mode alone started
        self._note(-1.0)
        while self._now < 1.0 + steps * STEP_S:
            rng.choice((self._recover, self._anything))(rng)
        self.end_s = self._now

    def _recover(self, rng: random.Random) -> None:
        """Whoever stands at the bench wants to go on: lets demands go, resets, starts; now and then leaves one out."""
        required = self._walk.required
        for name in required.functions:
            for _ in range(6 if rng.random() < 0.8 else 0):
                if self._walk.holds(required.demand(name)):
                    self._take(rng, required.functions[name].demand)
        buttons = sorted({required.reset_of(name) for name in required.functions})
        for button in rng.sample(buttons, len(buttons)):
            for _ in range(2):
                self._take(rng, button)
        for unit in required.units:
            self._take(rng, unit, "start")

    def _anything(self, rng: random.Random) -> None:
        for _ in range(rng.randrange(1, 4)):
            self._take(rng)

    def _take(self, rng: random.Random, device: str = "", trigger: str = "") -> None:
        """One act that can happen (on the device), or what still has to come late."""
        walk = self._walk
        able = [
            event for event in walk.chain.events if reference.step_taken(event, walk._devices()) is not None
        ]
        late = [event for event in able if event.kind is ir.EventKind.LATE]
        acts = [one for one in able if device in ("", one.device) and trigger in ("", one.trigger)]
        if late or acts:
            event = rng.choice(late or acts)
            self.act(f"{event.device}.{event.trigger}")

    def act(self, word: str) -> None:
        """One act or late reaction, `device.trigger`."""
        self._walk.do(word)
        self._note(self._now)
        self._look()
        self._now += STEP_S
        self.end_s = self._now

    def steps(self, port: str) -> list[tuple[float, float]]:
        """What the log shows at a port, change by change."""
        return self._rig.steps[port]

    def _note(self, at: float) -> None:
        value = reference.holds
        for port, term in self._walk.required.compiled.outputs.items():
            after = LINE_S if port.endswith(".enabled") else TORQUE_S if port.endswith(".torque") else 0.0
            shown = value(term, self._walk.now, self._walk.now)
            steps = self._rig.steps.setdefault(port, [(-2.0, shown)])
            if steps[-1][1] != shown:
                steps.append((at + after, shown))

    def _look(self) -> None:
        walk, required = self._walk, self._walk.required
        for unit in required.units:
            torque, may = required.torque(unit), ir.any_of([required.permit(unit), required.torque(unit)])
            for name in required.functions:
                stopped = ir.any_of(
                    [ir.all_of([latched(name), may]), ir.all_of([required.demand(name), torque])]
                )
                if unit in required.units_of(name) and walk.holds(stopped):
                    self.forbidden.add((name, unit))
            modes = self.bench.required.modes
            for mode in () if modes is None else modes.each:
                if unit in self.bench.required.idle_in(mode) and walk.holds(
                    ir.all_of([required.selected(mode), torque])
                ):
                    self.forbidden.add((MODE_CHANGE, unit))
            if modes is not None and modes.change == "stops" and walk.holds(ir.all_of([mode_changed(), may])):
                self.forbidden.add((MODE_CHANGE, unit))
            meant = ir.any_of([required.starts(unit), required.held()])
            if walk.holds(ir.all_of([ir.rises(torque), ir.no(meant)])):
                self.started.add(unit)
            if modes is not None and walk.holds(ir.all_of([required.acts_on([modes.by]), ir.rises(torque)])):
                self.changed.add(unit)

    def trace(self) -> Trace:
        """The log of the walk: contacts every 10 ms, currents every 5 ms, nothing missing."""
        signals, messages = {}, {}
        units = self.bench.required.effects.torque_off.of
        for message, period, offset in (("Cell", 0.01, 0.003), ("Axis", 0.005, 0.001)):
            t = np.arange(offset, self.end_s + STEP_S, period)
            times = np.rint(t * 1e9).astype(np.int64)
            messages[message] = times
            shown = self._rig.bits if message == "Cell" else [f"{unit}.torque" for unit in units]
            for port in shown:
                name = signal(port) if message == "Cell" else f"{port.split('.')[0]}_current"
                values = self._rig.at(port, t) * (1.0 if message == "Cell" else 3.0)
                signals[f"{message}.{name}"] = Samples(message, name, "", times, values)
        end = int(messages["Cell"][-1])
        return Trace(0, False, end, messages, signals, (), resolution_ns=1000)

    def judged(self) -> Judgement:
        """What replay says of the log."""
        return judge_trace(self.bench, self.trace())


def blinded(trace: Trace, message: str, lo_s: float, hi_s: float) -> Trace:
    """The log without the frames of one message from `lo_s` to `hi_s`, as the reader would tell of it."""
    lo, hi = round(lo_s * 1e9), round(hi_s * 1e9)
    times = trace.messages[message]
    keep = (times <= lo) | (times >= hi)
    kept = times[keep]
    span = Interval(int(kept[kept <= lo][-1]), int(kept[kept >= hi][0]))
    doubt = Quality(QualityKind.GAP, message, None, span, "walk", True, "frames are missing")
    signals = {
        name: one
        if one.message != message
        else replace(one, times_ns=one.times_ns[keep], values=one.values[keep])
        for name, one in trace.signals.items()
    }
    return replace(trace, signals=signals, messages={**trace.messages, message: kept}, quality=(doubt,))


def walks(bench: Bench, seed: int, count: int, steps: int = 45) -> Iterator[Taken]:
    """Several walks on the bench."""
    for number in range(count):
        yield Taken(bench, random.Random(f"{bench.bench.id} {seed} {number}"), steps)
