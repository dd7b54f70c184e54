"""The generator of logs of zones and modes: what it writes is what it played, by python-can and cantools.

Relays: reset by release, lock by the line. Decay and run-up: elementary closed forms.
"""

import math
from functools import cache
from pathlib import Path

import can
import cantools
import loggen_rig
import loggen_rigs
import numpy as np
import pytest
from loggen_rig import EPOCH, Relay, Rig, signal
from loggen_rigs import DEFECTS, SHAPES, both, played, press, start

CASES = [(shape, defect) for shape, defects in DEFECTS.items() for defect in defects]
Series = dict[str, tuple[np.ndarray, np.ndarray]]


@cache
def text_of(shape: str, defect: str = "") -> str:
    rig, end = played(shape, defect)
    return rig.candump(end)


def decoded(shape: str, tmp: Path, keys: tuple[str, ...] = ()) -> tuple[Rig, Series]:
    """Times (s from the epoch) and values of every signal, as other people's tools read them."""
    rig, end = played(shape, keys=keys)
    path = tmp / "x.log"
    path.write_text(rig.candump(end), encoding="ascii")
    base = cantools.database.load_string(rig.dbc())
    rows: dict[str, list[tuple[float, float]]] = {}
    with can.LogReader(path) as reader:
        for message in reader:
            name = base.get_message_by_frame_id(message.arbitration_id).name
            for one, value in base.decode_message(message.arbitration_id, message.data).items():
                rows.setdefault(f"{name}.{one}", []).append((message.timestamp - EPOCH, float(value)))
    return rig, {name: tuple(np.array(pairs).T) for name, pairs in rows.items()}  # type: ignore[misc]


@pytest.mark.parametrize("shape", ["two_zones", "jog_mode"])
def test_each_contact_is_shown_as_it_was_played(shape: str, tmp_path: Path) -> None:
    rig, signals = decoded(shape, tmp_path)
    assert len(rig.bits) > 5
    for port in rig.bits:
        times, values = signals[f"Cell.{signal(port)}"]
        assert (values == rig.at(port, times - 0.0005)).mean() > 0.99
        assert len(np.flatnonzero(np.diff(values))) == len(rig.steps[port]) - 1
    assert not [name for name in signals if "._" in name]


def test_periods_and_counters(tmp_path: Path) -> None:
    keys = ("key.work_a", "key.work_b", "key.setup_a", "key.setup_b")
    _, signals = decoded("set_up_mode", tmp_path, keys)
    for name, period in (("Cell.Beat", 0.01), ("Keys.Beat", 0.02), ("Axis.drive_current", 0.005)):
        assert np.mean(np.diff(signals[name][0])) == pytest.approx(period, rel=1e-3)
    for name in ("Cell.Beat", "Keys.Beat"):
        assert set(np.diff(signals[name][1]) % 256) == {1.0}
    assert "Keys.key_work_a" in signals
    assert "Cell.key_work_a" not in signals


def test_current_decays_and_speed_follows_its_laws(tmp_path: Path) -> None:
    rig, signals = decoded("locked_guard_with_set_up", tmp_path)
    on = [at for at, value in rig.steps["drive.torque"] if value]
    off = [at for at, value in rig.steps["drive.torque"] if not value and at > 0]
    times, amps = signals["Axis.drive_current"]
    assert amps[(times > on[0] + 0.01) & (times < off[0])] == pytest.approx(3.0, abs=0.2)
    assert np.abs(amps[(times > off[0] + 0.006) & (times < on[1])]).max() < 0.3
    assert loggen_rig.decay_s(3.0, 0.3) == pytest.approx(0.0008 * math.log(10))
    times, rpm = signals["Axis.speed"]
    assert np.interp(on[0] + 0.1, times, rpm) == pytest.approx(1200 * (1 - math.exp(-1)), abs=20)
    assert np.interp(off[0] + 1.0, times, rpm) == pytest.approx(600, abs=10)
    assert np.interp(off[0] + 2.5, times, rpm) == pytest.approx(0, abs=2)


LINE, RESET = (lambda now: now["line"]), (lambda now: now["reset"])


@pytest.mark.parametrize(
    ("how", "words", "on"),
    [
        ({}, "l r R", [False, False, True]),  # small letters: closed, pressed; capitals: opened, let go
        ({}, "r l R", [False, False, False]),
        ({}, "l r R L l", [False, False, True, False, False]),
        ({}, "l r L l R", [False, False, False, False, False]),
        ({}, "l r R L l r R", [False, False, True, False, False, False, True]),
        ({"latches": False}, "l r R L l", [False, False, True, False, True]),
        ({"on_press": True}, "l r", [False, True]),
    ],
)
def test_relays(how: dict[str, bool], words: str, on: list[bool]) -> None:
    relay, now, got = Relay(LINE, RESET, **how), {"line": False, "reset": False}, []
    for word in words.split():
        now[{"l": "line", "r": "reset"}[word.lower()]] = word.islower()
        relay.follow(now)
        got.append(relay.on)
    assert got == on


def test_a_unit_starts_only_with_its_line_and_stops_with_it() -> None:
    contacts = {"door.a": True, "door.b": True, "reset.pressed": False}
    rig = Rig(
        contacts,
        {"k1": Relay(loggen_rigs.closed("door"), lambda now: now["reset.pressed"])},
        lines={"drive": lambda now: now["k1"]},
    )
    rig.play([*start(0.5, "drive"), *press(1, "reset"), *start(2, "drive"), *both(3, "door", False)])
    assert rig.steps["drive.enabled"] == [
        (-1.0, False),
        (pytest.approx(1.338), True),
        (pytest.approx(3.011), False),
    ]
    assert rig.steps["drive.torque"] == [
        (-1.0, False),
        (pytest.approx(2.02), True),
        (pytest.approx(3.016), False),
    ]


@pytest.mark.parametrize(("shape", "defect"), CASES)
def test_every_defect_changes_the_log(shape: str, defect: str) -> None:
    assert text_of(shape, defect) != text_of(shape)
    assert len(DEFECTS[shape][defect]) == 2  # a function and an effect


def test_same_seed_same_text_other_seed_other_text() -> None:
    rig, end = played("two_zones")
    assert rig.candump(end) == text_of("two_zones")
    assert rig.candump(end, seed=2) != text_of("two_zones")


def test_each_shape_has_a_bench_file() -> None:
    shapes = Path(__file__).parents[1] / "benches" / "shapes"
    assert all((shapes / f"{shape}.yaml").is_file() for shape in SHAPES)
    assert set(DEFECTS) == set(SHAPES)


def test_the_generator_imports_nothing_of_the_package() -> None:
    for name in ("loggen_rig.py", "loggen_rigs.py"):
        assert "interlock" not in (Path(__file__).parent / name).read_text(encoding="utf-8").lower()
