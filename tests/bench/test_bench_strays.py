"""Names of devices that are not there, units that nobody stops, and units of modes: one clear error each."""

from pathlib import Path

import pytest
from bench_sample import MARK, check, edited, found, load

from interlock.bench import parse_bench
from interlock.errors import BenchError

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"


def refused(name: str, *changes: tuple[str, str]) -> list[str]:
    text = (SHAPES / f"{name}.yaml").read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    with pytest.raises(BenchError) as raised:
        parse_bench("b.yaml", text)
    return str(raised.value).splitlines()


AWAY = {
    "a device that is like one": (
        "relay.reset: reset.pressed",
        "relay.reset: ‸rest.pressed",
        "'rest.pressed': there is no device 'rest'; did you mean reset.pressed?",
    ),
    "a device that is like one without such an output": (
        "relay.reset: reset.pressed",
        "relay.reset: ‸relai.pressed",
        "'relai.pressed': there is no device 'relai'; describe it under devices, or name one that is there",
    ),
    "an input of a device that is not there": (
        "relay.reset: reset.pressed",
        "relay.reset: reset.pressed\n  ‸lamp.on_line: relay.out_a",
        "'lamp.on_line': there is no device 'lamp'; describe it under devices, or name one that is there",
    ),
    "an output of a device that is there": (
        "relay.reset: reset.pressed",
        "relay.reset: ‸reset.released",
        "'reset.released': there is no output of this name; did you mean reset.pressed?",
    ),
    "a signal of a device that is not there": (
        "    shaft.speed:",
        "    ‸lamp.speed:",
        "'lamp.speed': there is no device 'lamp'; describe it under devices, or name one that is there",
    ),
}


@pytest.mark.parametrize("case", AWAY.values(), ids=AWAY)
def test_a_device_that_is_not_there_is_told_as_such(case: tuple[str, str, str]) -> None:
    """Not as an output: of the outputs of other devices none is meant, and to name one could hide a mistake."""
    old, new, said = case
    check(edited((old, new)), said)


def test_where_a_device_is_missing_each_place_that_names_it_is_told() -> None:
    said = refused("single_contactor", ("  door: {kind: guard_switch_single, name: pump door}\n", ""))
    assert said == [
        "b.yaml:34:17: 'door.a': there is no device 'door'; describe it under devices, or name one that is there",
        "b.yaml:35:17: 'door.a': there is no device 'door'; describe it under devices, or name one that is there",
        "b.yaml:49:15: 'door': there is no device of this name; write estop",
    ]


def test_where_no_device_could_be_meant_none_is_proposed() -> None:
    text = edited(("supply: {of: contactor, on_by: supply_on", f"supply: {{of: contactor, on_by: {MARK}lamp"))
    assert "write one of" in found(text)[0].said
    [only] = refused(
        "three_doors",
        (
            "    torque_off: {of: [drive]",
            "    standstill: {of: wheel, below: 10 1/min, within: 1 s, source: s}\n    torque_off: {of: [drive]",
        ),
        ("  drive: {kind: drive_unit, name: drive motor}", "  drive: {kind: drive_unit, name: drive motor}"),
    )
    assert only.endswith("'wheel': there is no device of this name; write drive")


def test_two_channels_are_asked_only_of_a_kind_that_has_them() -> None:
    watched = (
        '      source: "ISO 13850:2015, 4.1"\n',
        '      source: "ISO 13850:2015, 4.1"\n      channels: {within: 50 ms, source: s}\n',
    )
    [said] = refused("single_contactor", watched)
    assert said.endswith(
        "channels: device 'estop' is of a kind without two channels that could disagree; remove this entry"
    )


@pytest.mark.parametrize("missing", ["drive", "load"])
def test_every_unit_must_be_stopped(missing: str) -> None:
    other = {"drive": "load", "load": "drive"}[missing]
    text = edited(("of: [drive, load]", f"of: [{other}]"), (f"  {missing}: {{", f"  {MARK}{missing}: {{"))
    check(
        text,
        f"device '{missing}': it makes torque, and no stop is required to take it away; add {missing} under required, "
        "effects, torque_off, of",
    )


def test_a_list_of_units_that_is_wrong_itself_is_told_alone() -> None:
    check(
        edited(("of: [drive, load]", f"of: [drive, {MARK}lod]")),
        "'lod': there is no device of this name; did you mean load?",
    )


def test_a_sensor_of_torque_is_no_unit() -> None:
    """Its torque is a value that it measures, not an output that it makes."""
    load(edited(("  shaft: {", "  scale: {kind: torque_transducer, name: transducer}\n  shaft: {")))


UNITS = "units: [drive]"


@pytest.mark.parametrize(
    ("units", "said"),
    [
        ("units: [drvie]", "'drvie': there is no unit of torque_off of this name; did you mean drive?"),
        ("units: [hood]", "'hood': there is no unit of torque_off of this name; write one of drive, load"),
        ("units: [drive, drive]", "'drive': it stands here twice; name it once"),
        ("units: []", "units: it is empty; write at least one entry"),
        (
            "units: drive and load",
            "units: 'drive and load' is no id; write small letters, digits and _, beginning with a letter",
        ),
    ],
)
def test_the_units_of_a_mode_are_units(units: str, said: str) -> None:
    [only] = refused("set_up_of_one_unit", (UNITS, units))
    assert only.split(": ", 1)[1] == said


def test_a_kind_that_a_built_in_one_is_called_like_is_told_once() -> None:
    """The rest of the file is checked by the kind that stands in it."""
    renamed = ("  line_motor:  #", "  plain_relay:  #"), ("kind: line_motor", "kind: plain_relay")
    assert refused("single_contactor", *renamed) == [
        "b.yaml:9:3: kind 'plain_relay': a built-in kind has this name; choose another"
    ]
