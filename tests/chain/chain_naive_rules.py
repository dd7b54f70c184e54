"""What the requirement forbids, rule by rule, told over single steps and states; and how soon it can happen.

What must not last is looked for twice: where no late reactions end it in time from where it stands; and, if there is
no such place, where it comes later after its demand than allowed (`chain_naive_clock`).
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from itertools import count, product

from chain_naive import Books, Judge, Move, State
from chain_naive_clock import soonest_late, time_runs
from chain_naive_schedule import soonest_cut_short

from interlock.bench.expr import Expr, evaluate, names

Node = tuple[State, Books]


def asked(judge: Judge, state: State, device: str) -> bool:
    """The device demands the stop, in whatever mode."""
    wanted = judge.kind[device].demand
    return wanted is not None and evaluate(wanted, lambda one: judge.value(state, f"{device}.{one}"))


def in_series(device: str, line: Expr) -> bool:
    """With all contacts of the device open the line is off, whatever else stands in it."""
    others = sorted(one for one in names(line) if not one.startswith(f"{device}."))
    ways = (dict(zip(others, on, strict=True)) for on in product([False, True], repeat=len(others)))
    return not any(evaluate(line, {**dict.fromkeys(names(line), False), **way}.__getitem__) for way in ways)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the walk."""

    was: State
    before: Books
    move: Move
    after: Books


def forbidden_step(judge: Judge, rule: str, function: str | None, subject: str | None) -> "Bad[Step] | None":
    """The rule as a test of one step; None if it is a rule about states."""
    values = judge.world.values
    supply_buttons = {one.supply.on_by for one in judge.functions.values() if one.supply is not None}
    stops = {name for name, kind in judge.kind.items() if kind.demand is not None and not kind.starts}
    reset, modes = judge.button(function), judge.required.modes
    selector = set() if modes is None else {modes.by}

    barred = {judge.button(one) for one in judge.resettable} | stops | supply_buttons | selector
    barred |= {judge.button(None)} if modes is not None and modes.change == "stops" else set()
    buttons = [name for name, kind in judge.kind.items() if kind.momentary and name not in barred]

    def rises(step: Step, what: Callable[[State, str], bool]) -> bool:
        units = judge.units_of(None if rule == "supply_return_never_starts" else function)
        return any(what(step.move.after, unit) and not what(step.was, unit) for unit in units)

    def held(step: Step) -> bool:
        return any(held_down(judge, step.move.after, button) for button in buttons)

    def meant(step: Step, others: set[str] = frozenset()) -> bool:
        return step.move.delay_ns is None and step.move.device not in barred | others

    def starts(step: Step) -> bool:
        """Meant, and if it is an act on the unit itself, one that leads to torque or to its run-up by declaration."""
        if step.move.device != subject:
            return meant(step)
        kind = judge.kind[subject]
        torque = {one for one in kind.states if evaluate(kind.outputs["torque"], one.__eq__)}
        late = {one for t in kind.transitions if t.after and t.to in torque for one in t.source} - torque
        run_up = late - {t.to for t in kind.transitions if not t.act} - {kind.start}
        if step.move.delay_ns is not None:
            own = [t for t in kind.transitions if t.after == step.move.trigger and t.to in torque]
            return bool(own) and all(set(t.source) <= run_up for t in own)
        return any(t.act == step.move.trigger and t.to in torque | run_up for t in kind.transitions)

    def again(step: Step) -> bool:
        what = judge.permit if judge.by_supply_on(function) else judge.released
        return function in step.before.unreset and (rises(step, what) or rises(step, judge.torque))

    def by_button(step: Step) -> bool:
        """Again, and not merely by the supply, where the button is what switches that on."""
        if not judge.by_supply_on(function):
            return again(step)
        back = rises(step, judge.enabled) or rises(step, judge.torque)
        return function in step.before.unreset and back and not held(step)

    def released(step: Step) -> bool:
        return judge.pressed(step.was, function) and not judge.pressed(step.move.after, function)

    def unlawful(step: Step) -> bool:
        lawful = judge.lawful(step.was, step.before, step.move.after, function)
        return released(step) and not (lawful and function in step.before.good_press)

    def by_person(step: Step, device: str) -> bool:
        return step.move.delay_ns is None and step.move.device == device

    def supplied(step: Step) -> bool:
        named = judge.functions[function].supply
        assert named is not None
        bus = judge.required.effects.bus_discharged
        feeding = {named.of} | (set() if bus is None else {bus.of})
        late = step.move.delay_ns is not None and step.move.device in feeding
        return (late or by_person(step, named.on_by)) and rises(step, judge.torque) and not held(step)

    def unmeant(step: Step) -> bool:
        began = judge.torque(step.move.after, subject) and not judge.torque(step.was, subject)
        return began and not starts(step) and not held(step)

    def set_by_nobody(step: Step) -> bool:
        store = f"{subject}.set"
        began = judge.value(step.move.after, store) and not judge.value(step.was, store)
        return began and not meant(step, set(judge.units))

    def freed(step: Step) -> bool:
        lock, shaft = f"{subject}.locked", judge.required.effects.standstill
        turns = any(judge.torque(step.was, unit) for unit in judge.units)
        if shaft is not None and "standstill" in judge.functions[function].effects:
            turns = turns or not values(step.was).get(f"{shaft.of}.still", True)
        freed = judge.value(step.was, lock) and not judge.value(step.move.after, lock)
        return turns and freed and judge.required_now(step.move.after, function)

    def gone_at_once(step: Step) -> bool:
        """All units of the function lose their torque by the act that demands the stop."""
        asked_now = function in judge.demands(step.move.after)
        by_act = step.move.delay_ns is None and step.move.device == judge.functions[function].demand
        units = judge.units_of(function)
        lost = [judge.torque(step.was, one) and not judge.torque(step.move.after, one) for one in units]
        return asked_now and by_act and all(lost)

    def brakes(step: Step) -> bool:
        """Of category 0: begins to brake on the demand. Of category 1: loses the torque on it without having braked."""
        if subject is None:
            return gone_at_once(step)
        kind, at = judge.kind[subject], judge.world.names.index(subject)
        if kind.braking is None or function not in judge.demands(step.move.after):
            return False
        was, now = (evaluate(kind.braking, state[at].__eq__) for state in (step.was, step.move.after))
        if judge.functions[function].stop_category == 0:
            return now and not was
        lost = judge.torque(step.was, subject) and not judge.torque(step.move.after, subject)
        late = step.move.delay_ns is not None
        return lost and not was and (late or step.move.device == judge.functions[function].demand)

    rules: dict[str, Bad[Step]] = {
        "supply_not_again": lambda step: (
            function in step.before.supply_taken & step.after.supply_taken
            and judge.value(step.move.after, f"{subject}.main")
            and not judge.value(step.was, f"{subject}.main")
        ),
        "stop_category": brakes,
        "locked_until_standstill": freed,
        "release_never_restarts": lambda step: (
            again(step) and step.move.device == judge.functions[function].demand
        ),
        "reset_acts_on_release": lambda step: (
            by_button(step)
            and judge.pressed(step.move.after, function)
            and (step.move.delay_ns is not None or by_person(step, reset))
        ),
        "no_reset_under_demand": lambda step: (
            again(step) and unlawful(step) and function in judge.seen(step.move.after)
        ),
        "stuck_reset": lambda step: (
            by_button(step) and unlawful(step) and not judge.seen(step.move.after) & judge.bars(function)
        ),
        "mode_change_never_starts": lambda step: by_person(step, subject) and rises(step, judge.torque),
        "reset_never_starts": lambda step: (
            function in step.before.unreset
            and by_person(step, reset)
            and rises(step, judge.torque)
            and not held(step)
        ),
        "supply_return_never_starts": supplied,
        "start_by_person": unmeant,
        "references_by_person": set_by_nobody,
    }
    return rules.get(rule)


Bad = Callable[..., bool]


def held_down(judge: Judge, state: State, button: str) -> bool:
    """A person holds it: it says so, or it starts by being held and demands no stop."""
    values, kind = judge.world.values(state), judge.kind[button]
    if "pressed" in kind.outputs:
        return values[f"{button}.pressed"]
    demanded = kind.demand is None or evaluate(kind.demand, lambda name: values[f"{button}.{name}"])
    return kind.starts and not demanded


def forbidden_state(
    judge: Judge, rule: str, function: str | None, subject: str | None, limit: int | None = None
) -> "tuple[Bad, int | None] | None":
    """The rule as a test of one state, and how long late reactions may leave it so; None: about steps."""
    effects = judge.required.effects
    named = judge.units_of(function) if subject not in judge.units else [subject]
    off = max(judge.limit_ns(function, unit) for unit in named)
    opens = None if effects.contactor_open is None else effects.contactor_open.within
    zero = None if effects.references_zero is None else effects.references_zero.within

    def demanded(state: State) -> bool:
        return function in judge.demands(state)

    def permitted(state: State) -> bool:
        return any(judge.permit(state, unit) or judge.torque(state, unit) for unit in named)

    def held(state: State) -> bool:
        """A device for the unit, required in the mode, that must be held is held; or no guard is suspended."""
        mode, lost, holds = judge.mode(state), False, False
        for name, one in judge.functions.items():
            if "torque_off" not in one.effects or subject not in judge.units_of(name):
                continue
            here, momentary = one.in_modes is None or mode in one.in_modes, judge.kind[one.demand].momentary
            lost |= not here and not momentary
            holds |= here and momentary and name not in judge.demands(state)
        return mode is None or holds or not lost

    def complete(state: State) -> bool:
        """Of contacts straight in the lines to the inputs, all have opened."""
        device, world = judge.functions[function].demand, judge.world
        lines = [world.bench.wiring.get(f"{subject}.{one}") for one in judge.kind[subject].off_channels]
        straight = all(line is not None and in_series(device, line) for line in lines)
        return not straight or not any(
            judge.value(state, f"{device}.{one}") for one in judge.kind[device].channels
        )

    def fed(state: State) -> bool:
        inputs = judge.world.inputs(state, subject)
        return len({inputs[one] for one in judge.kind[subject].off_channels}) == 2

    def powered(state: State) -> bool:
        inputs, kind = judge.world.inputs(state, subject), judge.kind[subject]
        return all(inputs[one] for one in kind.off_channels) and inputs.get("supply", True)

    def since_cut_off(state: State) -> bool:
        bus, cut = effects.bus_discharged, effects.contactor_open
        by = cut is not None and bus is not None and bus.after == "contactor_open"
        return demanded(state) and not (by and judge.value(state, f"{cut.of}.main"))

    def closed(state: State) -> bool:
        return judge.value(state, f"{subject}.main")

    def button(state: State) -> bool:
        supply = judge.functions[function].supply
        return supply is not None and judge.value(state, f"{supply.on_by}.pressed")

    def lives_on(state: State) -> bool:
        charged = judge.charge(state, subject) and not judge.supplied(state, subject)
        return charged and judge.enabled(state, subject)

    def given_back(state: State) -> bool:
        """The button that gives the supply back, and resets by it, is pressed, and nothing forbids it."""
        pressed = judge.by_supply_on(function) and judge.pressed(state, function)
        return pressed and not judge.seen(state) & judge.bars(function)

    rules: dict[str, tuple[Bad, int | None]] = {
        "torque_off": (lambda s, _: demanded(s) and (judge.torque(s, subject) or lives_on(s)), off),
        "torque_off_inputs": (lambda s, _: demanded(s) and complete(s) and fed(s), off),
        "contactor_open": (lambda s, _: demanded(s) and closed(s) and not button(s), opens),
        "supply_on_dead": (lambda s, _: demanded(s) and closed(s) and button(s), opens),
        "supply_stays_off": (
            lambda s, b: function in b.supply_taken and not demanded(s) and closed(s),
            opens,
        ),
        "stays_off": (lambda s, b: function in b.unreset and permitted(s) and not given_back(s), off),
        "stop_completes": (
            lambda s, b: (
                (subject, limit) in b.stopping
                and not any(subject in judge.units_of(one) for one in b.unreset if one in judge.resettable)
                and judge.torque(s, subject)
            ),
            limit,
        ),
        "brief_stop_completes": (
            lambda s, b: (function, subject) in b.brief and not demanded(s) and judge.torque(s, subject),
            None if function is None or subject is None else judge.limit_ns(function, subject),
        ),
        "mode_change_stops": (lambda s, b: b.mode_open and permitted(s), off),
        "held_in_mode": (lambda s, _: judge.torque(s, subject) and not held(s), off),
        "channels_disagree": (lambda s, b: function in b.mistrusted and permitted(s), off),
        "references_zero": (lambda s, b: function in b.unreset and judge.value(s, f"{subject}.set"), zero),
        "bus_discharged": (lambda s, _: demanded(s) and judge.value(s, f"{subject}.live"), None),
        "bus_discharged_in_time": (
            lambda s, _: since_cut_off(s) and judge.value(s, f"{subject}.live"),
            None if effects.bus_discharged is None else effects.bus_discharged.within,
        ),
        "idle_in_mode": (
            lambda s, _: (
                (mode := judge.mode(s)) is not None
                and subject in judge.required.idle_in(mode)
                and judge.torque(s, subject)
            ),
            off,
        ),
        "power_removed": (lambda s, _: demanded(s) and powered(s), off),
        "standstill": (
            lambda s, _: demanded(s) and not judge.value(s, f"{subject}.still"),
            None if effects.standstill is None else effects.standstill.within,
        ),
    }
    return rules.get(rule)


def soonest(judge: Judge, rule: str, function: str | None, subject: str | None) -> int | None:
    """How many steps from power-up the rule can first be broken; None if it never is."""
    if rule != "stop_completes":
        return _soonest(judge, rule, function, subject, None)
    limits = {judge.limit_ns(name, subject) for name in judge.functions if subject in judge.units_of(name)}
    found = (_soonest(judge, rule, function, subject, limit) for limit in limits)
    return min((one for one in found if one is not None), default=None)


def soonest_of_all(judge: Judge, rule: str, function: str | None, subject: str | None) -> int | None:
    """The same; only if it never is, people who act just before another one ends an act are looked at too."""
    found = soonest(judge, rule, function, subject)
    other = judge.parted if found is None else None
    return found if other is None else soonest(other, rule, function, subject)


def _soonest(
    judge: Judge, rule: str, function: str | None, subject: str | None, limit: int | None
) -> int | None:
    if rule == "recovers":
        return _soonest_lost(judge, lambda _: True, lambda *_: True)
    if rule == "reset_restores":
        stops = {one.demand for one in judge.functions.values() if not judge.kind[one.demand].starts}
        return _soonest_lost(
            judge,
            lambda node: (
                not (judge.demands(node[0]) or node[1].mistrusted or node[1].doubted)
                and not (subject is not None and rests(judge, node[0], subject))
            ),
            lambda before, move: (
                move.delay_ns is not None
                or move.device not in stops
                or not any(asked(judge, state, move.device) for state in (before, move.after))
            ),
            subject,
        )
    if rule == "ramp_completed":
        return soonest_cut_short(judge, function, subject)
    on_step = forbidden_step(judge, rule, function, subject)
    on_state = forbidden_state(judge, rule, function, subject, limit)
    found = _soonest_for_good(judge, on_step, on_state)
    if found is not None or on_state is None or on_state[1] is None:
        return found
    return soonest_late(judge, on_state[0], on_state[1], time_runs(judge, rule, function, subject, limit))


def _soonest_for_good(
    judge: Judge, on_step: "Bad[Step] | None", on_state: "tuple[Bad, int | None] | None"
) -> int | None:
    """Steps to what must never be, or must not last and is not ended in time from where it stands."""
    start = (judge.world.start, judge.note(judge.world.start, Books(), judge.world.start))
    level, met = [start], {start}
    for depth in count():
        if on_state is not None and any(_lasts(judge, node, *on_state) for node in level):
            return depth
        ahead = []
        for was, before in level:
            for move in judge.world.moves(was):
                after = judge.note(was, before, move.after)
                if on_step is not None and on_step(Step(was, before, move, after)):
                    return depth + 1
                if (move.after, after) not in met:
                    met.add((move.after, after))
                    ahead.append((move.after, after))
        if not ahead:
            return None
        level = ahead
    raise AssertionError


def _lasts(judge: Judge, node: Node, bad: Bad, within_ns: int | None) -> bool:
    """The node is bad, and stays so in whichever order late reactions come, each at its latest, up to the limit."""
    if not bad(*node):
        return False
    todo, met = [(0, node, _due(judge, node, 0, {}))], set()
    while todo:
        now, (was, before), due = todo.pop()
        if (now, was, before, frozenset(due.items())) in met:
            continue
        met.add((now, was, before, frozenset(due.items())))
        for move in judge.world.moves(was):
            if move.delay_ns is None:
                continue
            then = 0 if within_ns is None else max(now, due[_name(move)])
            after = (move.after, judge.note(was, before, move.after))
            if within_ns is not None and then > within_ns:
                continue
            if not bad(*after):
                return False
            others = {one: at for one, at in due.items() if one != _name(move)}
            todo.append((then, after, {} if within_ns is None else _due(judge, after, then, others)))
    return True


def _name(move: Move) -> tuple[str, str]:
    return move.device, move.trigger


def _due(
    judge: Judge, node: Node, now: int, before: dict[tuple[str, str], int]
) -> dict[tuple[str, str], int]:
    """When each late reaction that is due comes at the latest: as before, or counted from now."""
    late = [(move, move.delay_ns) for move in judge.world.moves(node[0]) if move.delay_ns is not None]
    return {_name(move): before.get(_name(move), now + delay_ns) for move, delay_ns in late}


def rests(judge: Judge, state: State, unit: str) -> bool:
    """The selected mode is one in which the unit does not work."""
    mode = judge.mode(state)
    return mode is not None and unit in judge.required.idle_in(mode)


def _units(judge: Judge, subject: str | None) -> list[str]:
    """The unit itself; without one, those that work in every mode."""
    modes = judge.required.modes
    away = {} if modes is None else {unit for mode in modes.each for unit in judge.required.idle_in(mode)}
    return [unit for unit in judge.units if unit not in away] if subject is None else [subject]


def _soonest_lost(
    judge: Judge, from_: Callable[[Node], bool], by: Callable[[State, Move], bool], *only: str | None
) -> int | None:
    """Steps to a node that `from_` accepts, from which no moves that `by` accepts lead to torque of some unit."""
    start = (judge.world.start, judge.note(judge.world.start, Books(), judge.world.start))
    steps, back, todo = {start: 0}, dict[Node, set[Node]](), deque([start])
    while todo:
        node = todo.popleft()
        for move in judge.world.moves(node[0]):
            after = (move.after, judge.note(*node, move.after))
            if by(node[0], move):
                back.setdefault(after, set()).add(node)
            if after not in steps:
                steps[after] = steps[node] + 1
                todo.append(after)
    lost = set()
    for unit in _units(judge, only[0]) if only else judge.units:
        good = {node for node in steps if judge.torque(node[0], unit)}
        todo = deque(good)
        while todo:
            for node in back.get(todo.popleft(), set()) - good:
                good.add(node)
                todo.append(node)
        lost |= {node for node in steps if node not in good and from_(node)}
    return min((steps[node] for node in lost), default=None)
