"""The built-in bench: an endurance cell for pump motors. Invented figures, for the demo only."""

from pathlib import Path
from typing import Final

from interlock.twin.bench import Chain, Control, Logger, Message, Shaft, Shown, Supply, TwinBench, Unit
from interlock.twin.nets import DriveState, Net, Reading

__all__ = ["cell"]

_DBC: Final = Path(__file__).with_name("bench.dbc")

_PRIME: Final = Unit(
    inertia_kgm2=0.018,
    coulomb_nm=1.0,
    viscous_nms=0.0012,
    nm_per_a=1.15,
    limit_a=42.0,
    idle_a=0.8,
    lag_s=0.002,
    decay_s=0.0012,
    sto_s=0.005,
)
_BRAKE: Final = Unit(
    inertia_kgm2=0.026,
    coulomb_nm=1.4,
    viscous_nms=0.0018,
    nm_per_a=1.05,
    limit_a=36.0,
    idle_a=0.8,
    lag_s=0.003,
    decay_s=0.0015,
    sto_s=0.006,
)
_SUPPLY: Final = Supply(
    volts=320.0,
    capacitance_f=0.0022,
    precharge_ohm=50.0,
    source_ohm=0.05,
    bleeder_ohm=500.0,
    minimum_v=180.0,
    pick_up_s=0.033,
    drop_out_s=0.02,
    standby_a=0.6,
)
_MESSAGES: Final = (
    Message(
        "CellInputs",
        0.008,
        (
            Shown("HoodAOpen", Net.COVER_1, inverted=True),
            Shown("HoodBOpen", Net.COVER_2, inverted=True),
            Shown("StopButtonFree", Net.STOP_1),
            Shown("EmergencyPressed", Net.EMERGENCY_1, inverted=True),
            Shown("ResetPressed", Net.RESET),
            Shown("SupplyPressed", Net.SUPPLY),
            Shown("MirrorClosed", Net.MAIN, inverted=True),
            Shown("PermitPrime", Net.PERMIT_DRIVE),
            Shown("PermitBrake", Net.PERMIT_LOAD),
            Shown("Beat", Reading.ALIVE),
        ),
        alive_modulo=16,
    ),
    Message(
        "AxisMotion",
        0.004,
        (
            Shown("PrimeSpeed", Reading.SPEED, noise=0.25),
            Shown("PrimeCurrent", Reading.CURRENT_DRIVE, noise=0.03),
            Shown("BrakeCurrent", Reading.CURRENT_LOAD, noise=0.03),
            Shown("BrakeTorque", Reading.TORQUE_ESTIMATE),
        ),
    ),
    Message(
        "AxisState",
        0.016,
        (Shown("PrimeStatus", Reading.STATUS_DRIVE), Shown("BrakeStatus", Reading.STATUS_LOAD)),
    ),
    Message("ShaftTorque", 0.002, (Shown("Torque", Reading.SHAFT_TORQUE, noise=0.02),)),
    Message(
        "SetPoints",
        0.024,
        (Shown("SpeedSet", Net.SPEED_REFERENCE), Shown("TorqueSet", Net.TORQUE_REFERENCE)),
    ),
    Message(
        "LinkVoltage",
        0.012,
        (
            Shown("LinkVolts", Reading.BUS_VOLTAGE, noise=0.08),
            Shown("LinkAmps", Reading.BUS_CURRENT, noise=0.05),
        ),
    ),
    Message(
        "WindingHeat",
        0.25,
        (
            Shown("PrimeWinding", Reading.HEAT_DRIVE, noise=0.1),
            Shown("BrakeWinding", Reading.HEAT_LOAD, noise=0.1),
        ),
    ),
)


def cell() -> TwinBench:
    """The bench whose messages `bench.dbc` lays out, in good order."""
    return TwinBench(
        drive=_PRIME,
        load=_BRAKE,
        shaft=Shaft(stiffness_nm_rad=9000.0, damping_nms=0.6),
        supply=_SUPPLY,
        chain=Chain(
            drop_s=0.012,
            rise_s=0.044,
            spread_s=0.003,
            discrepancy_s=0.04,
            reset_hold_max_s=3.0,
            cover_lag_s=0.012,
        ),
        control=Control(zero_s=0.028, step_s=0.02, ramp_rpm_s=3600.0, proportional_nms=5.0, integral_nm=40.0),
        logger=Logger(delay_s=0.0004, wander_s=0.0006, delay_max_s=0.003, jitter_s=0.00005),
        messages=_MESSAGES,
        status_words={
            DriveState.NO_VOLTAGE: 0x0240,
            DriveState.DISABLED: 0x0250,
            DriveState.READY: 0x0231,
            DriveState.SWITCHED_ON: 0x0233,
            DriveState.ENABLED: 0x0237,
        },
        dbc=_DBC.read_text(encoding="ascii"),
        threshold_a=0.4,
        standstill_rpm=10.0,
        low_v=60.0,
    )
