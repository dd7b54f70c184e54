"""A second bench for the twin: the layout and figures of `tests/benches/sample`, from its engineer's data sheet."""

from pathlib import Path
from typing import Final

from interlock.twin.acts import Act, Deed, Scenario
from interlock.twin.bench import Chain, Control, Logger, Message, Shaft, Shown, Supply, TwinBench, Unit
from interlock.twin.nets import DriveState, Net, Reading

SAMPLE_DBC: Final = Path(__file__).parents[1] / "benches" / "sample" / "bench.dbc"

_DRIVE: Final = Unit(0.005, 0.14, 0.0006, 0.526, 40.0, 1.1, 0.002, 0.0008, 0.004)
_LOAD: Final = Unit(0.006, 0.14, 0.0006, 0.526, 40.0, 0.5, 0.002, 0.0008, 0.005)
_MESSAGES: Final = (
    Message(
        "SAFE_State",
        0.01,
        (
            Shown("CoverA", Net.COVER_1),
            Shown("CoverB", Net.COVER_2),
            Shown("TorqueOffPb", Net.STOP_1),
            Shown("EmStop", Net.EMERGENCY_1),
            Shown("ResetPb", Net.RESET),
            Shown("SupplyOnPb", Net.SUPPLY),
            Shown("MainContactorFb", Net.MAIN),
            Shown("TorqueEnableDrv", Net.PERMIT_DRIVE),
            Shown("TorqueEnableLod", Net.PERMIT_LOAD),
            Shown("Alive", Reading.ALIVE),
        ),
        alive_modulo=256,
    ),
    Message(
        "DRV_Actual",
        0.005,
        (
            Shown("DrvStatus", Reading.STATUS_DRIVE),
            Shown("DrvSpeed", Reading.SPEED, noise=0.25),
            Shown("DrvCurrent", Reading.CURRENT_DRIVE, noise=0.03),
        ),
    ),
    Message(
        "LOD_Actual",
        0.005,
        (
            Shown("LodStatus", Reading.STATUS_LOAD),
            Shown("LodTorqueEst", Reading.TORQUE_ESTIMATE),
            Shown("LodCurrent", Reading.CURRENT_LOAD, noise=0.03),
        ),
    ),
    Message(
        "CTL_Refs", 0.02, (Shown("SpeedRef", Net.SPEED_REFERENCE), Shown("TorqueRef", Net.TORQUE_REFERENCE))
    ),
    Message("TQS_Torque", 0.001, (Shown("ShaftTorque", Reading.SHAFT_TORQUE, noise=0.01),)),
    Message(
        "PSU_Bus",
        0.01,
        (Shown("BusVoltage", Reading.BUS_VOLTAGE), Shown("BusCurrent", Reading.BUS_CURRENT, noise=0.05)),
    ),
)


def sample_bench() -> TwinBench:
    """In good order; the shaft is rigid."""
    idle = dict.fromkeys(DriveState, 0x0650)
    return TwinBench(
        drive=_DRIVE,
        load=_LOAD,
        shaft=Shaft(stiffness_nm_rad=None),
        supply=Supply(96.0, 0.01, 8.0, 0.02, 90.0, 60.0, 0.028, 0.017, 1.0),
        chain=Chain(0.01, 0.035, 0.003, 0.05, 3.0, 0.01),
        control=Control(0.032, 0.0002, 12000.0, 0.35, 2.0),
        logger=Logger(0.00015, 0.0, 0.004),
        messages=_MESSAGES,
        status_words=idle | {DriveState.ENABLED: 0x0637},
        dbc=SAMPLE_DBC.read_text(encoding="ascii"),
        threshold_a=0.3,
        standstill_rpm=5.0,
        low_v=60.0,
    )


def sample_walk(rpm: float = 1440.0, torque_nm: float = 6.2) -> Scenario:
    """Six stops at speed in 60 s, the fourth an emergency stop with supply-on pressed while latched."""

    def start(at_s: float) -> list[Deed]:
        return [
            Deed(at_s, Act.START),
            Deed(at_s, Act.SET_SPEED, rpm),
            Deed(at_s + 0.6, Act.SET_TORQUE, torque_nm),
        ]

    def press(act: Act, release: Act, at_s: float, seconds: float) -> list[Deed]:
        return [Deed(at_s, act), Deed(at_s + seconds, release)]

    def reset(at_s: float) -> list[Deed]:
        return press(Act.PRESS_RESET, Act.RELEASE_RESET, at_s, 0.3)

    def supply(at_s: float) -> list[Deed]:
        return press(Act.PRESS_SUPPLY, Act.RELEASE_SUPPLY, at_s, 0.25)

    release = [Act.RELEASE_EMERGENCY, Act.RELEASE_STOP, Act.CLOSE_COVER]
    deeds = [Deed(0.5, act) for act in release] + supply(1.5) + reset(2.5) + start(3.5)
    stops = {
        6.0: (Act.OPEN_COVER, Act.CLOSE_COVER),
        14.0: (Act.PRESS_STOP, Act.RELEASE_STOP),
        22.0: (Act.OPEN_COVER, Act.CLOSE_COVER),
        42.5: (Act.PRESS_STOP, Act.RELEASE_STOP),
        50.5: (Act.OPEN_COVER, Act.CLOSE_COVER),
    }
    for at_s, acts in stops.items():
        deeds += press(*acts, at_s, 3.0) + reset(at_s + 4.0) + start(at_s + 5.0)
    deeds += press(Act.PRESS_EMERGENCY, Act.RELEASE_EMERGENCY, 30.0, 6.5)
    deeds += supply(33.0) + supply(37.5) + reset(38.5) + start(39.5)
    return Scenario(tuple(sorted(deeds, key=lambda deed: deed.at_s)), 60.5)
