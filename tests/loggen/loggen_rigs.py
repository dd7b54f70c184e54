"""The rigs of `loggen_rig` and what is done on them, sound or with one defect each; no import from the package."""

from collections.abc import Callable

from loggen_rig import Is, Relay, Rig

Act = tuple[float, str, bool]
Shape = tuple[Rig, list[Act], float]

DEFECTS: dict[str, dict[str, tuple[str, str]]] = {
    # shape: defect: function and effect of which a failing finding must speak
    "two_zones": {
        "other_reset": ("west_stop", "stays_off"),
        "west_without_latch": ("west_stop", "stays_off"),
        "east_door_dead": ("east_stop", "torque_off"),
        "slow_west": ("west_stop", "torque_off"),
        "reset_starts_west": ("west_stop", "restart"),
        "estop_of_east_only": ("emergency_stop", "torque_off"),
        "reset_on_press": ("west_stop", "reset_on_release"),
    },
    "one_reset_for_two_zones": {
        "reset_under_door": ("left_stop", "stays_off"),
        "right_stops_left_only": ("right_stop", "torque_off"),
        "left_without_latch": ("left_stop", "stays_off"),
    },
    "ramp_beside_sto": {
        "late_by_own_limit": ("emergency_stop", "torque_off"),
        "late_load": ("hood_stop", "torque_off"),
        "late_by_the_common_limit": ("hood_stop", "torque_off"),
    },
    "set_up_mode": {
        "hood_dead": ("hood_stop", "torque_off"),
        "estop_dead_in_set_up": ("emergency_stop", "torque_off"),
        "enabling_dead": ("enabling_stop", "torque_off"),
        "slow_by_enabling": ("enabling_stop", "torque_off"),
        "enabling_starts": ("enabling_stop", "restart"),
        "change_runs_on": ("mode_change", "torque_off"),
        "change_needs_no_reset": ("mode_change", "stays_off"),
        "key_starts": ("mode_change", "starts_nothing"),
    },
    "jog_mode": {
        "jog_dead": ("jog_stop", "torque_off"),
        "door_dead": ("door_stop", "torque_off"),
        "halt_dead_in_set_up": ("halt_stop", "torque_off"),
    },
    "set_up_of_one_unit": {
        "load_runs_at_set_up": ("mode_change", "idle_in_mode"),
        "hood_dead": ("hood_stop", "torque_off"),
        "enabling_dead": ("enabling_stop", "torque_off"),
    },
    "locked_guard_with_set_up": {
        "unlocked_too_soon": ("guard_stop", "locked_until_still"),
        "guard_dead": ("guard_stop", "stays_off"),
        "coasts_too_long": ("enabling_stop", "standstill"),
    },
    "stop_category_1": {"ramp_too_long": ("hood_stop", "torque_off")},
    "emergency_stop_of_each_drive": {"one_drive_left_out": ("emergency_stop", "torque_off")},
    "enabling_button": {"latch_missing": ("enabling_stop", "stays_off")},
    "set_up_key": {"key_dead": ("key_stop", "torque_off")},
}


def press(t: float, button: str, length: float = 0.3) -> list[Act]:
    """A button pressed and let go."""
    return [(t, f"{button}.pressed", True), (t + length, f"{button}.pressed", False)]


def both(t: float, device: str, closed: bool, first: str = "a", second: str = "b") -> list[Act]:
    """Two contacts of a device, one just after the other."""
    return [(t, f"{device}.{first}", closed), (t + 0.004, f"{device}.{second}", closed)]


def opened(lo: float, hi: float, device: str) -> list[Act]:
    """A guard opened and closed, or an enabling button let go and held again."""
    return [*both(lo, device, False), *both(hi, device, True)]


def held(lo: float, hi: float, device: str) -> list[Act]:
    """An enabling button held and let go."""
    return [*both(lo, device, True), *both(hi, device, False)]


def actuated(lo: float, hi: float, device: str) -> list[Act]:
    """A stop button or emergency stop actuated and let go."""
    return [(lo, f"{device}.actuated", True), (hi, f"{device}.actuated", False)]


def start(t: float, *units: str) -> list[Act]:
    """Somebody starts the units."""
    return [(t + 0.2 * k, f"start {unit}", True) for k, unit in enumerate(units)]


def turned(t: float, to: str) -> list[Act]:
    """The mode key turned through its off position."""
    away = {"work": "setup", "setup": "work"}[to]
    return [
        *both(t, "key", False, f"{away}_a", f"{away}_b"),
        *both(t + 0.4, "key", True, f"{to}_a", f"{to}_b"),
    ]


def closed(device: str) -> Callable[[Is], bool]:
    """Both contacts of a guard are closed."""
    return lambda now: now[f"{device}.a"] and now[f"{device}.b"]


def two_zones(defect: str = "") -> Shape:
    """Each door stops its zone, the emergency stop both; the wrong reset button is tried after each stop."""
    contacts = dict.fromkeys(("door_east.a", "door_east.b", "door_west.a", "door_west.b"), True)
    contacts |= dict.fromkeys(
        ("estop.actuated", "reset_east.pressed", "reset_west.pressed", "reset.pressed"), False
    )
    west_reset = (
        ("reset_east.pressed", "reset_west.pressed") if defect == "other_reset" else ("reset_west.pressed",)
    )
    relays = {
        "k1": Relay(
            (lambda _: True) if defect == "east_door_dead" else closed("door_east"),
            lambda now: now["reset_east.pressed"],
        ),
        "k2": Relay(
            closed("door_west"),
            lambda now: any(now[one] for one in west_reset),
            latches=defect != "west_without_latch",
            on_press=defect == "reset_on_press",
        ),
        "k3": Relay(lambda now: not now["estop.actuated"], lambda now: now["reset.pressed"]),
    }
    rig = Rig(
        contacts,
        relays,
        lines={
            "east": lambda now: now["k1"] and now["k3"],
            "west": lambda now: now["k2"] and (now["k3"] or defect == "estop_of_east_only"),
        },
        off_s={"west": lambda _: 0.25 if defect == "slow_west" else 0.016},
        runs={"west": lambda now: now["_early"]},
    )
    contacts["_early"] = False
    acts = [
        *press(1.0, "reset_east"),
        *press(1.6, "reset_west"),
        *press(2.2, "reset"),
        *start(3.2, "east", "west"),
    ]
    acts += [
        *opened(5, 7, "door_east"),
        *press(7.6, "reset_west"),
        *press(8.5, "reset_east"),
        *start(9.5, "east"),
    ]
    acts += [*opened(12, 14, "door_west"), *press(14.6, "reset_east"), *press(15.5, "reset_west")]
    acts += [
        *start(16.5, "west"),
        *actuated(19, 21, "estop"),
        *press(21.5, "reset_east"),
        *press(22.5, "reset"),
    ]
    acts += start(24, "east", "west")
    if defect == "reset_starts_west":
        acts += [(15.2, "_early", True), (16.2, "_early", False)]
    return rig, acts, 27.0


def one_reset_for_two_zones(defect: str = "") -> Shape:
    """One button resets both zones; the right one also while the left door stands open."""
    contacts = {"left_door.a": True, "right_door.a": True, "halt.actuated": False, "reset.pressed": False}
    contacts["_bridged"] = False

    def left(now: Is) -> bool:
        return (now["left_door.a"] or now["_bridged"]) and not now["halt.actuated"]

    def right(now: Is) -> bool:
        return (now["right_door.a"] or defect == "right_stops_left_only") and not now["halt.actuated"]

    def pressed(now: Is) -> bool:
        return now["reset.pressed"]

    relays = {"k1": Relay(left, pressed, latches=defect != "left_without_latch"), "k2": Relay(right, pressed)}
    rig = Rig(contacts, relays, lines={"left": lambda now: now["k1"], "right": lambda now: now["k2"]})
    acts = [*press(1, "reset"), *start(2, "left", "right")]
    acts += [(4.0, "left_door.a", False), (6.0, "left_door.a", True), *press(7, "reset"), *start(8, "left")]
    acts += [
        (10.0, "right_door.a", False),
        (12.0, "right_door.a", True),
        *press(13, "reset"),
        *start(14, "right"),
    ]
    acts += [(16.0, "left_door.a", False), (18.0, "right_door.a", False), (20.0, "right_door.a", True)]
    acts += [*press(21, "reset"), *start(22, "right"), (24.0, "left_door.a", True), *press(25, "reset")]
    acts += [*start(26, "left"), *actuated(28, 30, "halt"), *press(31, "reset"), *start(32, "left", "right")]
    if defect == "reset_under_door":
        acts += [(20.9, "_bridged", True), (23.9, "_bridged", False)]
    return rig, acts, 35.0


def ramp_beside_sto(defect: str = "") -> Shape:
    """The drive motor stops by its ramp, the load motor at once."""
    contacts = {"hood.a": True, "hood.b": True, "estop.actuated": False, "reset.pressed": False}
    ramp = {"late_by_own_limit": 0.95, "late_by_the_common_limit": 1.2}.get(defect, 0.7)
    rig = Rig(
        contacts,
        {
            "k1": Relay(
                lambda now: closed("hood")(now) and not now["estop.actuated"],
                lambda now: now["reset.pressed"],
            )
        },
        lines={"drive": lambda now: now["k1"], "load": lambda now: now["k1"]},
        off_s={"drive": lambda _: ramp, "load": lambda _: 0.2 if defect == "late_load" else 0.03},
    )
    acts = [*press(1, "reset"), *start(2, "drive", "load"), *opened(4, 7, "hood"), *press(8, "reset")]
    acts += [
        *start(9, "drive", "load"),
        *actuated(12, 15, "estop"),
        *press(16, "reset"),
        *start(17, "drive", "load"),
    ]
    return rig, acts, 20.0


def set_up_mode(defect: str = "") -> Shape:
    """Hood and emergency stop at work; then with the hood open, by the enabling button; then work again."""
    contacts = dict.fromkeys(("hood.a", "hood.b", "key.work_a", "key.work_b"), True)
    contacts |= dict.fromkeys(("key.setup_a", "key.setup_b", "enable.a", "enable.b", "estop.actuated"), False)
    contacts["reset.pressed"] = False

    def work(now: Is) -> bool:
        return now["key.work_a"] and now["key.work_b"]

    def setup(now: Is) -> bool:
        return now["key.setup_a"] and now["key.setup_b"]

    def line(now: Is) -> bool:
        free = not now["estop.actuated"] or (defect == "estop_dead_in_set_up" and setup(now))
        hood = closed("hood")(now) or defect == "hood_dead"
        return free and ((work(now) and hood) or setup(now) or defect == "change_runs_on")

    def enabled(now: Is) -> bool:
        here = work(now) or (defect == "change_runs_on" and not setup(now))
        return now["k1"] and (here or closed("enable")(now) or (defect == "enabling_dead" and setup(now)))

    def early(now: Is) -> bool:
        return (defect == "enabling_starts" and setup(now)) or (defect == "key_starts" and work(now))

    loose = ("change_needs_no_reset", "key_starts")
    rig = Rig(
        contacts,
        {"k1": Relay(line, lambda now: now["reset.pressed"], latches=defect not in loose)},
        lines={"drive": enabled},
        runs={"drive": early},
        off_s={"drive": lambda now: 0.25 if defect == "slow_by_enabling" and setup(now) else 0.016},
    )
    acts = [
        *press(1, "reset"),
        *start(2.5, "drive"),
        *opened(4, 6, "hood"),
        *press(7, "reset"),
        *start(8, "drive"),
    ]
    acts += [*actuated(10, 12, "estop"), *press(13, "reset"), *start(14, "drive"), *turned(16, "setup")]
    acts += [*opened(17.5, 39, "hood"), *held(18.5, 23, "enable"), *press(19.5, "reset"), *start(21, "drive")]
    acts += [*held(24.5, 27, "enable"), *start(25.5, "drive"), *held(29, 38, "enable"), *start(30, "drive")]
    acts += [*actuated(32, 34, "estop"), *press(35, "reset"), *start(36, "drive"), *turned(40, "work")]
    acts += [*press(41.5, "reset"), *start(43, "drive")]
    return rig, acts, 45.0


def set_up_of_one_unit(defect: str = "") -> Shape:
    """As `set_up_mode`, with a second motor that rests at set-up."""
    rig, acts, end = set_up_mode(defect if defect != "load_runs_at_set_up" else "")
    running = defect == "load_runs_at_set_up"
    rig.lines["load"] = lambda now: now["k1"] and (now["key.work_a"] or running)
    acts += [*start(2.7, "load"), *start(8.2, "load"), *start(14.2, "load"), *start(21.2, "load")]
    acts += [*start(36.2, "load"), *start(43.2, "load")]
    return rig, acts, end


def jog_mode(defect: str = "") -> Shape:
    """Door and halt button at work; at set-up the motor turns while the jog button is held."""
    contacts = dict.fromkeys(("door.a", "door.b", "key.work_a", "key.work_b"), True)
    contacts |= dict.fromkeys(("key.setup_a", "key.setup_b", "jog.a", "jog.b", "jog.pressed"), False)
    contacts |= {"halt.actuated": False, "reset.pressed": False, "_stuck": False}

    def line(now: Is) -> bool:
        free = not now["halt.actuated"] or (defect == "halt_dead_in_set_up" and now["key.setup_a"])
        door = closed("door")(now) or defect == "door_dead"
        return free and ((now["key.work_a"] and door) or now["key.setup_a"])

    def jogged(now: Is) -> bool:
        return closed("jog")(now) or now["_stuck"]

    rig = Rig(
        contacts,
        {"k1": Relay(line, lambda now: now["reset.pressed"])},
        lines={"drive": lambda now: now["k1"] and (now["key.work_a"] or jogged(now))},
        runs={"drive": lambda now: now["key.setup_a"] and now["jog.pressed"]},
    )
    acts = [
        *press(1, "reset"),
        *start(2.5, "drive"),
        *opened(4, 6, "door"),
        *press(7, "reset"),
        *start(8, "drive"),
    ]
    acts += [*actuated(10, 12, "halt"), *press(13, "reset"), *start(14, "drive"), *turned(16, "setup")]
    acts += [*opened(17, 32, "door"), *press(18, "reset"), *_jog(20, 22), *_jog(24, 25.5)]
    acts += [*actuated(25, 26.5, "halt"), *press(27.5, "reset"), *_jog(29, 31), *turned(33, "work")]
    acts += [*press(35, "reset"), *start(37, "drive")]
    if defect == "jog_dead":
        acts += [(21.0, "_stuck", True), (22.6, "_stuck", False)]
    return rig, acts, 39.0


def locked_guard_with_set_up(defect: str = "") -> Shape:
    """The guard is opened only when the shaft stands; at set-up it is open and the enabling button is held."""
    contacts = dict.fromkeys(("guard.a", "guard.b", "key.work_a", "key.work_b"), True)
    contacts |= dict.fromkeys(("key.setup_a", "key.setup_b", "enable.a", "enable.b", "reset.pressed"), False)

    def line(now: Is) -> bool:
        guard = closed("guard")(now) or defect == "guard_dead"
        return (now["key.work_a"] and guard) or now["key.setup_a"]

    rig = Rig(
        contacts,
        {"k1": Relay(line, lambda now: now["reset.pressed"])},
        lines={"drive": lambda now: now["k1"] and (now["key.work_a"] or closed("enable")(now))},
        turns="drive",
        coast=60.0 if defect == "coasts_too_long" else 600.0,
    )
    unlocked = 5.0 if defect == "unlocked_too_soon" else 6.8
    acts = [
        *press(1, "reset"),
        *start(2.5, "drive"),
        (4.0, "stop drive", True),
        *opened(unlocked, 9, "guard"),
    ]
    acts += [*press(10, "reset"), *start(11, "drive"), *turned(13, "setup"), *opened(16.5, 31, "guard")]
    acts += [*held(17.5, 22, "enable"), *press(18.5, "reset"), *start(20, "drive"), *held(25, 28, "enable")]
    acts += [*start(26, "drive"), *turned(32, "work"), *press(34, "reset"), *start(36, "drive")]
    return rig, acts, 38.0


def stop_category_1(defect: str = "") -> Shape:
    """The drive motor by its ramp, within the one limit for both; reset is pressed for less than that limit."""
    contacts = {"hood.a": True, "hood.b": True, "halt.actuated": False, "reset.pressed": False}
    line = Relay(lambda now: closed("hood")(now) and not now["halt.actuated"], _reset)
    ramp = 1.2 if defect == "ramp_too_long" else 0.7
    both_on = {unit: lambda now: now["k1"] for unit in ("drive", "load")}
    rig = Rig(contacts, {"k1": line}, lines=both_on, off_s={"drive": lambda _: ramp})
    acts = [*press(1, "reset"), *start(2, "drive", "load"), *opened(4, 7, "hood"), *press(8, "reset")]
    acts += [
        *start(9, "drive", "load"),
        *actuated(11, 14, "halt"),
        *press(15, "reset"),
        *start(16, "drive", "load"),
    ]
    return rig, acts, 18.0


def emergency_stop_of_each_drive(defect: str = "") -> Shape:
    """Two relays, each on both drives."""
    contacts = {"hood.a": True, "hood.b": True, "estop.actuated": False, "reset.pressed": False}
    relays = {"k1": Relay(closed("hood"), _reset), "k2": Relay(lambda now: not now["estop.actuated"], _reset)}
    lines: dict[str, Callable[[Is], bool]] = {
        "drive": lambda now: now["k1"] and now["k2"],
        "load": lambda now: now["k1"] and (now["k2"] or defect == "one_drive_left_out"),
    }
    acts = [*press(1, "reset"), *start(2, "drive", "load"), *opened(4, 6, "hood"), *press(7, "reset")]
    acts += [
        *start(8, "drive", "load"),
        *actuated(10, 12, "estop"),
        *press(13, "reset"),
        *start(14, "drive", "load"),
    ]
    return Rig(contacts, relays, lines), acts, 16.0


def enabling_button(defect: str = "") -> Shape:
    """Held, reset, started, let go, twice; the log ends with the button let go, as it rests."""
    contacts = {"enable.a": False, "enable.b": False, "reset.pressed": False}
    relay = Relay(closed("enable"), _reset, latches=defect != "latch_missing")
    acts = [*held(1, 5, "enable"), *press(2, "reset"), *start(3, "pump")]
    acts += [*held(7, 12, "enable"), *press(8, "reset"), *start(9, "pump")]
    return Rig(contacts, {"k1": relay}, {"pump": lambda now: now["k1"]}), acts, 14.0


def set_up_key(defect: str = "") -> Shape:
    """A key that stops when it is turned to set-up."""
    contacts = {"key.work": True, "halt.actuated": False, "reset.pressed": False}
    line = Relay(lambda now: (now["key.work"] or defect == "key_dead") and not now["halt.actuated"], _reset)
    acts = [*press(1, "reset"), *start(2, "drive"), (4.0, "key.work", False), (6.0, "key.work", True)]
    acts += [*press(7, "reset"), *start(8, "drive"), *actuated(10, 12, "halt"), *press(13, "reset")]
    return Rig(contacts, {"k1": line}, {"drive": lambda now: now["k1"]}), [*acts, *start(14, "drive")], 16.0


def _reset(now: Is) -> bool:
    return now["reset.pressed"]


def _jog(lo: float, hi: float) -> list[Act]:
    return [*held(lo, hi, "jog"), (lo + 0.004, "jog.pressed", True), (hi, "jog.pressed", False)]


SHAPES: dict[str, Callable[[str], Shape]] = {
    one.__name__: one
    for one in (
        two_zones,
        one_reset_for_two_zones,
        ramp_beside_sto,
        set_up_mode,
        jog_mode,
        set_up_of_one_unit,
        locked_guard_with_set_up,
        stop_category_1,
        emergency_stop_of_each_drive,
        enabling_button,
        set_up_key,
    )
}


def played(shape: str, defect: str = "", keys: tuple[str, ...] = ()) -> tuple[Rig, float]:
    """The rig after its acts, and how long its log is; `keys`: contacts that come in a message of their own."""
    rig, acts, end = SHAPES[shape](defect)
    rig.keys = keys
    rig.play(acts)
    return rig, end
