"""Modes, zones, own limits and resets, cables: what is refused, where, and that each entry counts as content."""

from pathlib import Path

import pytest

from interlock.bench import Bench, parse_bench
from interlock.bench.cable_faults import cable_faults, named_by_kinds
from interlock.bench.fingerprint import fingerprint
from interlock.bench.load import kinds_of
from interlock.errors import BenchError

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"
MARK = "‸"


def text_of(name: str, *changes: tuple[str, str]) -> str:
    """The file of a bench with the first occurrence of each old text replaced."""
    text = (SHAPES / f"{name}.yaml").read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def bench(name: str, *changes: tuple[str, str]) -> Bench:
    return parse_bench("bench.yaml", text_of(name, *changes))


def place(text: str) -> tuple[int, int]:
    before = text[: text.index(MARK)]
    return before.count("\n") + 1, len(before) - before.rfind("\n")


# case: bench, old text, new text with the mark, what is said
MISTAKES = {
    "selector_unknown": (
        "set_up_mode",
        "    by: key\n",
        f"    by: {MARK}kay\n",
        "'kay': there is no device of this name",
    ),
    "selector_s_output_unknown": (
        "set_up_mode",
        "selected: key.setup_a and key.setup_b",
        f"selected: {MARK}key.set_up",
        "'key.set_up': there is no output of 'key' of this name",
    ),
    "output_of_another_device": (
        "set_up_mode",
        "selected: key.setup_a and key.setup_b",
        f"selected: {MARK}enable.a",
        "'enable.a': there is no output of 'key' of this name",
    ),
    "two_modes_at_once": (
        "set_up_mode",
        "selected: key.setup_a and key.setup_b",
        f"selected: {MARK}not key.setup_a",
        "mode 'set_up': in position 'work' mode 'work' is selected too",
    ),
    "mode_never_selected": (
        "set_up_mode",
        "selected: key.setup_a and key.setup_b",
        f"selected: {MARK}key.work_a and key.setup_b",
        "mode 'set_up': no position of the selector selects it",
    ),
    "mode_unknown": (
        "set_up_mode",
        "in_modes: [set_up]",
        f"in_modes: [{MARK}setup]",
        "'setup': there is no mode of this name; did you mean set_up?",
    ),
    "mode_twice": (
        "set_up_mode",
        "in_modes: [work]",
        f"in_modes: [work, {MARK}work]",
        "'work': it stands here twice",
    ),
    "modes_of_a_bench_without": (
        "two_zones",
        "      units: [east]\n",
        f"      {MARK}in_modes: [work]\n      units: [east]\n",
        "in_modes: the bench has no modes",
    ),
    "one_mode_only": (
        "set_up_mode",
        "      set_up: {title: set-up, selected: key.setup_a and key.setup_b}\n",
        "",
        "each: it has 1 entry; write at least 2",
    ),
    "emergency_stop_in_some_modes": (
        "set_up_mode",
        "      demand: estop\n",
        f"      demand: estop\n      {MARK}in_modes: [work]\n",
        "in_modes: an emergency stop acts in every mode (ISO 13850:2015, 4.1.1.2)",
    ),
    "change_unknown": (
        "set_up_mode",
        "    by: key\n",
        f"    by: key\n    change: {MARK}stop\n",
        "change: 'stop' is none of the choices; did you mean stops?",
    ),
    "unit_unknown": (
        "two_zones",
        "units: [east]",
        f"units: [{MARK}eats]",
        "'eats': there is no unit of torque_off of this name; did you mean east?",
    ),
    "limit_of_no_unit": (
        "ramp_beside_sto",
        "limits: {drive: 1 s}",
        f"limits: {{{MARK}drvie: 1 s}}",
        "'drvie': there is no unit of torque_off of this name; did you mean drive?",
    ),
    "limit_of_a_unit_of_another_zone": (
        "two_zones",
        "      units: [east]\n",
        f"      units: [east]\n      limits: {{{MARK}west: 1 s}}\n",
        "'west': there is no unit of this function of this name",
    ),
    "limit_not_above_zero": (
        "ramp_beside_sto",
        "limits: {drive: 1 s}",
        f"limits: {{drive: {MARK}0 s}}",
        "drive: '0 s' is not above zero",
    ),
    "reset_without_a_button": (
        "two_zones",
        "reset_by: reset_east",
        f"reset_by: {MARK}door_east",
        "device 'door_east': it has no output pressed",
    ),
    "reset_that_is_not_needed": (
        "set_up_mode",
        "      without_reset:",
        f"      {MARK}reset_by: reset\n      without_reset:",
        "reset_by: the function needs no reset, so it has no button for it",
    ),
    "no_reason_for_no_reset": (
        "set_up_mode",
        '"the person who holds it sees the danger; it permits a start and starts nothing (IEC 60204-1:2016, 10.9)"',
        f'{MARK}"  "',
        "without_reset: it is empty",
    ),
    "line_unknown": (
        "cable_to_the_guard",
        "lines: [hood.a, hood.b, reset.pressed]",
        f"lines: [hood.a, {MARK}hood.c, reset.pressed]",
        "'hood.c': there is no input or output of this name",
    ),
    "line_twice": (
        "cable_to_the_guard",
        "lines: [hood.a, hood.b, reset.pressed]",
        f"lines: [hood.a, hood.b, {MARK}hood.a]",
        "'hood.a': it stands here twice",
    ),
    "cable_named_like_a_device": (
        "cable_to_the_guard",
        "  chamber_cable:\n",
        f"  {MARK}hood:\n",
        "cable 'hood': a device has this id",
    ),
    "cable_of_one_line": (
        "cable_to_the_guard",
        "lines: [hood.a, hood.b, reset.pressed]",
        f"lines: {MARK}[hood.a]",
        "lines: it has 1 entry; write at least 2",
    ),
    "excluded_without_reason": (
        "cable_to_the_guard",
        "      reason: each line has an earthed screen of its own\n",
        "",
        "missing entry 'reason'",
    ),
    "device_left_over": (
        "cable_to_the_guard",
        "  reset: {kind: push_button",
        f"  {MARK}spare: {{kind: push_button, name: spare button}}\n  reset: {{kind: push_button",
        "device 'spare': nothing reads spare.pressed, and nothing is required of it",
    ),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_a_mistake_is_told_at_its_place(case: str) -> None:
    name, old, new, said = MISTAKES[case]
    text = text_of(name, (old, new))
    with pytest.raises(BenchError) as refused:
        parse_bench("bench.yaml", text.replace(MARK, ""))
    [problem] = refused.value.problems
    assert f"{problem.what}: {problem.why}; {problem.instead}".startswith(said)
    if MARK in new:
        assert (problem.line, problem.column) == place(text)


def test_a_mode_in_which_nothing_stops_the_units_is_refused() -> None:
    """Two functions in the other mode only, none in this one."""
    changes = [
        ("in_modes: [set_up]", "in_modes: [work]"),
        ("      demand: estop\n", "      demand: hood\n      in_modes: [work]\n"),
    ]
    with pytest.raises(BenchError) as refused:
        bench("set_up_mode", *changes)
    assert any(
        "mode 'set_up': no function takes torque away in this mode" in str(one)
        for one in refused.value.problems
    )


def test_a_unit_that_no_function_stops_is_refused() -> None:
    with pytest.raises(BenchError) as refused:
        bench(
            "two_zones",
            ("      demand: estop\n", "      demand: estop\n      units: [east]\n"),
            ("units: [west]", "units: [east]"),
        )
    assert [one.why for one in refused.value.problems] == ["no function takes its torque away"]


def test_units_of_a_function_that_takes_no_torque_are_refused() -> None:
    with pytest.raises(BenchError) as refused:
        bench(
            "two_emergency_stops",
            (
                "[torque_off, contactor_open, bus_discharged]",
                "[contactor_open, bus_discharged]\n      units: [load]",
            ),
        )
    assert [one.why for one in refused.value.problems] == ["this function takes no torque away"]


# Each entry is content: the fingerprint changes with it.
CONTENT = {
    "required.modes.change": ("set_up_mode", "    by: key\n", "    by: key\n    change: starts_nothing\n"),
    "required.modes.each.work.selected": (
        "set_up_mode",
        "selected: key.work_a and key.work_b",
        "selected: key.work_a",
    ),
    "required.functions.emergency_stop.limits.drive": (
        "ramp_beside_sto",
        "limits: {drive: 900 ms}",
        "limits: {drive: 950 ms}",
    ),
    "required.effects.torque_off.limits.drive": (
        "ramp_beside_sto",
        "limits: {drive: 1 s}",
        "limits: {drive: 2 s}",
    ),
    "required.functions.west_stop.reset_by": ("two_zones", "reset_by: reset_west", "reset_by: reset_east"),
    "required.functions.enabling_stop.without_reset": (
        "set_up_mode",
        "the person who holds it",
        "whoever holds it",
    ),
    "devices.hood.opened": ("set_up_mode", "name: guard hood}", "name: guard hood, opened: rarely}"),
    "cables.chamber_cable.lines": (
        "cable_to_the_guard",
        "[hood.a, hood.b, reset.pressed]",
        "[hood.a, hood.b]",
    ),
    "cables.desk_cable.excluded.reason": ("cable_to_the_guard", "an earthed screen", "a screen"),
}


@pytest.mark.parametrize("path", CONTENT)
def test_each_entry_counts_as_content(path: str) -> None:
    name, old, new = CONTENT[path]
    before, after = bench(name), bench(name, (old, new))
    assert fingerprint(before) != fingerprint(after)


def test_one_unit_or_mode_may_stand_without_brackets() -> None:
    assert bench("two_zones", ("units: [east]", "units: east")) == bench("two_zones")
    assert bench("set_up_mode", ("in_modes: [work]", "in_modes: work")) == bench("set_up_mode")


def test_limits_hold_by_function_then_by_unit_then_for_all() -> None:
    required = bench("ramp_beside_sto").required
    limits = {
        (name, unit): required.torque_limit_ns(name, unit) // 10**6
        for name in (None, "hood_stop", "emergency_stop")
        for unit in ("drive", "load")
    }
    assert limits == {
        (None, "drive"): 1000,
        (None, "load"): 80,
        ("hood_stop", "drive"): 1000,
        ("hood_stop", "load"): 80,
        ("emergency_stop", "drive"): 900,
        ("emergency_stop", "load"): 80,
    }


def lines(*names: str) -> Bench:
    return bench(
        "cable_to_the_guard", ("lines: [hood.a, hood.b, reset.pressed]", f"lines: [{', '.join(names)}]")
    )


def shorts(found: Bench, cable: str) -> list[str]:
    kinds = {name: kinds_of(found)[device.kind] for name, device in found.devices.items()}
    return [one.name for one in cable_faults(found, kinds) if one.cable == cable]


def test_each_two_lines_of_a_cable_make_a_short() -> None:
    """Four lines, six pairs; the pair that the switch's kind names itself stays with the kind."""
    found = lines("hood.a", "hood.b", "estop.c", "k1.reset")
    assert shorts(found, "chamber_cable") == [
        "short_hood_a_estop_c",
        "short_hood_a_k1_reset",
        "short_hood_b_estop_c",
        "short_hood_b_k1_reset",
        "short_estop_c_k1_reset",
    ]
    kinds = {name: kinds_of(found)[device.kind] for name, device in found.devices.items()}
    assert list(named_by_kinds(found.cables["chamber_cable"], kinds)) == ["hood.cross_short"]


def test_names_that_would_be_alike_are_numbered() -> None:
    """`a.b_c` beside `a_b.c` in one cable read alike with _ for the dot."""
    twin = ("  k1: {kind", "  k1_out: {kind: plain_relay, name: other relay}\n  k1: {kind")
    wiring = ("  k1.reset:", "  k1_out.coil: estop.a\n  k1.reset:")
    found = bench(
        "cable_to_the_guard",
        twin,
        wiring,
        ("lines: [hood.a, hood.b, reset.pressed]", "lines: [k1_out.out_a, hood.a, k1.out_a]"),
    )
    assert shorts(found, "chamber_cable") == [
        "short_k1_out_out_a_hood_a",
        "short_k1_out_out_a_k1_out_a",
        "short_hood_a_k1_out_a",
    ]


@pytest.mark.parametrize(
    ("demand", "said"),
    [
        (
            "hood",
            "category 2 leaves the power on (IEC 60204-1:2016, 9.2.2), and this function takes the torque away",
        ),
        ("estop", "an emergency stop is of category 0 or 1 (ISO 13850:2015, 4.1.4)"),
    ],
)
def test_stop_category_2_takes_no_torque_and_is_no_emergency_stop(demand: str, said: str) -> None:
    """Stop category 0 or 1 for an emergency stop: ISO 13850:2015, 4.1.4; what 2 means: IEC 60204-1:2016, 9.2.2."""
    old = f"      demand: {demand}\n"
    text = text_of("cable_to_the_guard", (old, f"{old}      stop_category: 2\n"))
    at = text.index("      stop_category: 2\n") + len("      stop_category: 2\n")
    text = text[:at] + text[at:].replace("      stop_category: 0\n", "", 1)
    with pytest.raises(BenchError) as refused:
        parse_bench("bench.yaml", text)
    [problem] = refused.value.problems
    assert (problem.what, problem.why) == ("stop_category", said)
    assert text.splitlines()[problem.line - 1].strip() == "stop_category: 2"


RAMPED = "stop_input_and_delay"


def kept(*parts: str) -> tuple[str, str]:
    """The one function of the bench that brakes must keep these under any single fault."""
    old = "      channels: {within: 50 ms, source: risk assessment of the bench}\n"
    return old, f"{old}      single_fault_keeps: [{', '.join(parts)}]\n"


@pytest.mark.parametrize("parts", [["braking"], ["power_removed"], ["braking", "power_removed"], []])
def test_parts_of_a_stop_of_category_1_may_be_asked_for_under_faults(parts: list[str]) -> None:
    found = bench(RAMPED, kept(*parts)).required.functions["hood_stop"]
    assert list(found.single_fault_keeps) == parts


@pytest.mark.parametrize(
    ("name", "changes", "said"),
    [
        (
            RAMPED,
            [("stop_category: 1", "stop_category: 0")],
            "only a stop of category 1 that takes torque away has these parts",
        ),
        (
            RAMPED,
            [
                (
                    "{kind: drive_stop_input, name: drive motor, delays: {stop_time: 700 ms}}",
                    "{kind: drive_unit, name: drive motor}",
                ),
                ("  drive.go: k1.out_a and k1.out_b\n", ""),
            ],
            "no unit of this function is of a kind that brakes and has torque-off inputs: nothing would be judged",
        ),
    ],
    ids=["category 0", "no unit brakes"],
)
def test_parts_that_a_stop_does_not_have_are_refused(
    name: str, changes: list[tuple[str, str]], said: str
) -> None:
    """Else the check would say that no fault takes what is not there."""
    text = text_of(name, *changes, kept("braking"))
    with pytest.raises(BenchError) as refused:
        parse_bench("bench.yaml", text)
    [problem] = refused.value.problems
    assert (problem.what, problem.why) == ("single_fault_keeps", said)
    assert text.splitlines()[problem.line - 1].strip() == "single_fault_keeps: [braking]"


TOLERANT = ("    by: key\n", "    by: key\n    single_fault_tolerant: true\n")


def test_that_no_fault_lets_a_unit_run_in_a_mode_needs_one_that_rests() -> None:
    modes = bench("set_up_of_one_unit", TOLERANT).required.modes
    assert modes is not None
    assert modes.single_fault_tolerant
    text = text_of("set_up_of_one_unit", TOLERANT, (", units: [drive]", ""))
    with pytest.raises(BenchError) as refused:
        parse_bench("bench.yaml", text)
    [problem] = refused.value.problems
    assert problem.what == "single_fault_tolerant"
    assert problem.why == "every unit may make torque in every mode, so nothing would be judged"
    assert text.splitlines()[problem.line - 1].strip() == "single_fault_tolerant: true"
