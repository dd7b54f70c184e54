"""A bench by the clock: acts at random times, each delay as long as stated or shorter, and what nobody may ever see.

Another opinion, which reads the files as data and knows nothing of the compiled form, of properties or observers. It
finds nothing that is only unlikely to be hit, so its silence proves nothing; but what it meets has really happened.
"""

import random
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import CodeType
from typing import Any

import yaml

import interlock.bench

ROOM = Path(interlock.bench.__file__).parent
GAPS = (0, 1, 3, 10, 25, 40, 60, 90, 150, 210, 400, 900, 4000, 15000)  # ms between acts
UNITS = {"us": 0.001, "ms": 1.0, "s": 1000.0}
SLACK = 0.5  # ms
Harm = tuple[str, str | None, str]  # rule, function, device


@cache
def built_in() -> dict[str, Any]:
    texts = [(ROOM / name).read_text("utf-8") for name in ("kinds.yaml", "kinds_more.yaml")]
    return {name: kind for text in texts for name, kind in yaml.safe_load(text).items()}


def milliseconds(text: str) -> float:
    number, unit = text.split()
    return float(number) * UNITS[unit]


def several(value: Any) -> list[Any]:
    return list(value) if isinstance(value, list) else [value]


@cache
def code(text: str) -> CodeType:
    """An expression of the bench file: it reads like Python, but for dots in names."""
    return compile(re.sub(r"\.", "__", text), "bench", "eval")


def holds(text: str, names: Mapping[str, bool]) -> bool:
    return bool(eval(code(text), {"always": True, "never": False}, names))  # noqa: S307 - files of this project


@dataclass
class Device:
    name: str
    kind: Mapping[str, Any]
    delays: Mapping[str, float]

    def outputs(self, state: str) -> dict[str, bool]:
        here = {one: one == state for one in self.kind["states"]}
        return {f"{self.name}__{one}": holds(str(text), here) for one, text in self.kind["outputs"].items()}

    def steps(self, trigger: str, name: str | None = None) -> list[Mapping[str, Any]]:
        """Its transitions by acts, by delays, or (`when`) those that come at once."""
        every = self.kind["transitions"]
        if trigger == "when":
            return [one for one in every if "act" not in one and "after" not in one]
        return [one for one in every if one.get(trigger) == name]

    def names(self, trigger: str) -> list[str]:
        return list(dict.fromkeys(one[trigger] for one in self.kind["transitions"] if trigger in one))


State = tuple[str, ...]  # of each device, in the order of the file
Event = tuple[str, str]  # device, and its act or delay


class Wired:
    """The devices and what joins them."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        kinds = {**built_in(), **data.get("kinds", {})}
        self.wiring = {port: str(text) for port, text in data["wiring"].items()}
        self.devices = {
            name: Device(
                name,
                kinds[one["kind"]],
                {delay: milliseconds(text) for delay, text in (one.get("delays") or {}).items()},
            )
            for name, one in data["devices"].items()
        }
        self.outputs = cache(self._outputs)
        self.settled = cache(self._settled)
        self.possible = cache(self._possible)

    def _outputs(self, state: State) -> dict[str, bool]:
        each = zip(self.devices.values(), state, strict=True)
        return {port: value for device, here in each for port, value in device.outputs(here).items()}

    def _inputs(self, name: str, outputs: Mapping[str, bool]) -> dict[str, bool]:
        needed = self.devices[name].kind.get("inputs") or {}
        return {
            one: holds(self.wiring.get(f"{name}.{one}", str(default)), outputs)
            for one, default in needed.items()
        }

    def _step(self, name: str, steps: list[Mapping[str, Any]], state: State) -> Mapping[str, Any] | None:
        """The first of the steps that is possible; None if none is."""
        here, inputs = state[list(self.devices).index(name)], self._inputs(name, self.outputs(state))
        for one in steps:
            if here in several(one["from"]) and ("when" not in one or holds(str(one["when"]), inputs)):
                return one
        return None

    def _settled(self, state: State) -> State:
        for _ in range(50):
            found = [self._step(name, one.steps("when"), state) for name, one in self.devices.items()]
            after = tuple(
                here if step is None else step["to"] for here, step in zip(state, found, strict=True)
            )
            if after == state:
                return after
            state = after
        raise RecursionError("never at rest")

    def moved(self, state: State, name: str, to: str) -> State:
        """What it all comes to as one device changes."""
        at = list(self.devices).index(name)
        return self.settled((*state[:at], to, *state[at + 1 :]))

    def _possible(self, trigger: str, state: State) -> dict[Event, Mapping[str, Any]]:
        found = {
            (name, one): self._step(name, device.steps(trigger, one), state)
            for name, device in self.devices.items()
            for one in device.names(trigger)
        }
        return {one: step for one, step in found.items() if step is not None}


@dataclass
class Books:
    """What an attentive person notes: since when what must not last has lasted."""

    since: dict[Harm, float] = field(default_factory=dict)
    limit: dict[Harm, float] = field(default_factory=dict)
    harms: set[Harm] = field(default_factory=set)

    def note(self, harm: Harm, there: bool, since: float | None, limit: float) -> None:
        if not there or since is None:
            self.since.pop(harm, None)
        else:
            self.since[harm], self.limit[harm] = since, limit

    def look(self, now: float) -> None:
        late = {one for one, since in self.since.items() if now > since + self.limit[one] + SLACK}
        self.harms |= late


class Run:
    """A bench at work, and the books of what is required of it (without modes)."""

    def __init__(self, data: Mapping[str, Any], wired: Wired, chance: random.Random) -> None:
        self.wired, self.required, self.chance = wired, data["required"], chance
        self.functions: dict[str, Any] = self.required["functions"]
        self.units: list[str] = several(self.required["effects"]["torque_off"]["of"])
        self.now, self.books = 0.0, Books()
        self.state = self.wired.settled(tuple(one.kind["start"] for one in self.wired.devices.values()))
        self.shown = self.wired.outputs(self.state)
        self.entered = dict.fromkeys(self.wired.devices, 0.0)
        self.ready: dict[Event, float] = {}
        self.due: dict[Event, float] = {}
        self.demanded: dict[str, float] = {}  # function: since when its demand is present
        self.stopped: dict[str, float] = {}  # function: since when it was not reset
        self.pressed: set[str] = set()  # functions whose reset is pressed lawfully
        self.running: dict[tuple[str, str], float] = {}  # function, unit: demanded then, not seen off since
        self.taken: dict[str, float] = {}  # function: since when its supply is taken
        self._arm()

    def _arm(self) -> None:
        late = self.wired.possible("after", self.state)
        for one in late.keys() - self.due.keys():
            longest = self.wired.devices[one[0]].delays[one[1]]
            share = 1.0 if self.chance.random() < 0.7 else self.chance.random()
            self.due[one] = self.now + share * longest
        self.due = {one: at for one, at in self.due.items() if one in late}
        acts = self.wired.possible("act", self.state)
        self.ready = {
            one: self.ready.get(one, self.now + milliseconds(step.get("takes", "0 ms")))
            for one, step in acts.items()
        }

    def _go(self, name: str, to: str, by: str | None) -> None:
        before, self.state = self.state, self.wired.moved(self.state, name, to)
        each = zip(self.wired.devices, before, self.state, strict=True)
        self.entered |= {device: self.now for device, old, new in each if old != new}
        was, self.shown = self.shown, self.wired.outputs(self.state)
        self._notes(was, by)
        self.books.look(self.now)
        self.ready = {one: at for one, at in self.ready.items() if self.entered[one[0]] != self.now}
        self._arm()

    def wait(self, until: float) -> None:
        """Let come what comes late."""
        while self.due and (first := min(self.due, key=lambda one: self.due[one])):
            if self.due[first] > until:
                break
            self.now = max(self.now, self.due.pop(first))
            self.books.look(self.now)
            self._go(first[0], self.wired.possible("after", self.state)[first]["to"], None)
        self.books.look(until)
        self.now = max(self.now, until)

    def act(self, one: Event, gap: float) -> None:
        """Do it after the gap, or as soon as the hand is there; not at all if it cannot be done by then."""
        self.wait(max(self.ready[one], self.now + gap))
        found = self.wired.possible("act", self.state)
        if one in found and self.ready[one] <= self.now:
            self._go(one[0], found[one]["to"], one[0])

    def _asks(self, device: str, shown: Mapping[str, bool]) -> bool:
        kind = self.wired.devices[device].kind
        return holds(str(kind["demand"]), {one: shown[f"{device}__{one}"] for one in kind["outputs"]})

    def _notes(self, was: Mapping[str, bool], by: str | None) -> None:
        shown, now = self.shown, self.now
        for name, function in self.functions.items():
            demanded = self._asks(function["demand"], shown)
            if demanded and name not in self.demanded:
                self.demanded[name] = now
                self.stopped.setdefault(name, now)
                for unit in self.units_of(function):
                    if was[f"{unit}__torque"]:
                        self.running.setdefault((name, unit), now)
                if "supply" in function:
                    self.taken.setdefault(name, now)
            elif not demanded:
                self.demanded.pop(name, None)
        for name, function in self.functions.items():
            self._reset(name, function, was)
        held = any(self._held(one) for one in self.wired.devices if one not in self.barred())
        for unit in self.units:
            if shown[f"{unit}__torque"] and not was[f"{unit}__torque"]:
                meant = held or (by is not None and by not in self.barred())
                self.books.harms |= set() if meant else {("start_by_person", None, unit)}
        gone = [one for one in self.running if not shown[f"{one[1]}__torque"]]
        gone += [
            one for one in self.running if one[0] not in self.demanded and held and not self.button(one[0])
        ]
        for one in gone:
            self.running.pop(one, None)
        for name, function in self.functions.items():
            self._judge(name, function)

    def _reset(self, name: str, function: Mapping[str, Any], was: Mapping[str, bool]) -> None:
        button, shown = self.button(name), self.shown
        supply = function.get("supply", {}).get("on_by")
        if supply and name not in self.demanded and shown[f"{supply}__pressed"]:
            held = self.wired.devices[supply].kind.get(
                "momentary"
            )  # held through the release is pressed anew
            if held or not was[f"{supply}__pressed"]:
                self.taken.pop(name, None)
        if button is None:
            if name not in self.demanded:
                self.stopped.pop(name, None)
            return
        before, after = was[f"{button}__pressed"], shown[f"{button}__pressed"]
        barred = any(one in self.demanded for one in self.bars(name))
        lawful = name in self.pressed and not barred
        if (before and not after and lawful) or (button == supply and after and not barred):
            self.stopped.pop(name, None)
        if after and not before and not barred:
            self.pressed.add(name)
        elif barred or not after:
            self.pressed.discard(name)

    def _judge(self, name: str, function: Mapping[str, Any]) -> None:
        effects, shown, note = self.required["effects"], self.shown, self.books.note
        demanded, stopped = self.demanded.get(name), self.stopped.get(name)
        guard = self.wired.devices[function["demand"]].kind.get("guard", False)
        for unit in self.units_of(function):
            limits = {**effects["torque_off"].get("limits", {}), **function.get("limits", {})}
            limit = milliseconds(limits.get(unit, effects["torque_off"]["within"]))
            note(("torque_off", name, unit), shown[f"{unit}__torque"], demanded, limit)
            if self.button(name):
                note(("stays_off", name, unit), shown[f"{unit}__torque"], stopped, limit)
            if self.button(name) or not guard:
                since = self.running.get((name, unit))
                note(("stop_completes", name, unit), since is not None, since, limit)
        if "references_zero" in function["effects"]:
            told = effects["references_zero"]
            is_set = shown[f"{told['of']}__set"]
            note(("references_zero", name, told["of"]), is_set, stopped, milliseconds(told["within"]))
        if "contactor_open" in function["effects"]:
            told = effects["contactor_open"]
            closed, limit = shown[f"{told['of']}__main"], milliseconds(told["within"])
            note(("contactor_open", name, told["of"]), closed, demanded, limit)
            if "supply" in function:
                note(("supply_stays_off", name, told["of"]), closed, self.taken.get(name), limit)

    def units_of(self, function: Mapping[str, Any]) -> list[str]:
        return several(function.get("units", self.units)) if "torque_off" in function["effects"] else []

    def button(self, name: str) -> str | None:
        function = self.functions[name]
        own: str | None = function.get("reset_by", self.required["reset"]["by"])
        return None if "without_reset" in function else own

    def bars(self, name: str) -> Iterator[str]:
        """Under whose demand the reset does nothing: the same button's that stop all of the same units."""
        mine = set(self.units_of(self.functions[name]))
        for one, other in self.functions.items():
            if self.button(one) == self.button(name) and mine <= set(self.units_of(other)):
                yield one

    def barred(self) -> set[str | None]:
        """What starts nothing."""
        kinds = {name: one.kind for name, one in self.wired.devices.items()}
        stops = {name for name, kind in kinds.items() if "demand" in kind and not kind.get("starts")}
        supplies = {one["supply"]["on_by"] for one in self.functions.values() if "supply" in one}
        return {*stops, *supplies, *(self.button(name) for name in self.functions)}

    def _held(self, name: str) -> bool:
        kind = self.wired.devices[name].kind
        if not kind.get("momentary"):
            return False
        if "pressed" in kind["outputs"]:
            return self.shown[f"{name}__pressed"]
        return bool(kind.get("starts")) and "demand" in kind and not self._asks(name, self.shown)


def harms(
    data: Mapping[str, Any], acts: int, enough: Callable[[Harm], bool] = lambda _: False, seed: int = 0
) -> set[Harm]:
    """What is met in so many acts, or until it is enough."""
    chance = random.Random(seed)
    found = set[Harm]()
    wired = Wired(data)
    while acts > 0 and not any(map(enough, found)):
        run = Run(data, wired, chance)
        for _ in range(80):
            acts -= 1
            if not run.ready:
                break
            run.act(chosen(run, chance), chance.choice(GAPS))
        run.wait(run.now + 30_000)
        found |= run.books.harms
    return found


def chosen(run: Run, chance: random.Random) -> Event:
    """An act that ends a demand, else one on a button or a start; or any."""
    demanding = {run.functions[name]["demand"] for name in run.demanded}
    ends = [one for one in run.ready if one[0] in demanding]
    works = [
        one
        for one in run.ready
        if (one[0] in run.units and one[1] != "stop") or run.wired.devices[one[0]].kind.get("momentary")
    ]
    goal = ends or works
    return chance.choice(goal if goal and chance.random() < 0.6 else list(run.ready))
