"""Safety relay and enable lines: reset by release, comparison of channels, and what each defect breaks.

That a reset acts on release, and that two channels are compared, is common practice for safety relays, no source.
"""

from dataclasses import dataclass, field
from functools import partial

import pytest

from interlock.demo.cell import cell
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import CHANNELS, Net
from interlock.twin.relay import EnableLines, SafetyRelay

CHAIN = cell().chain  # drop 12 ms, rise 44 ms, discrepancy 40 ms


@dataclass
class Rig:
    """A relay with hands on its inputs; no spread of delays."""

    flaws: tuple[Defect, ...] = ()
    kernel: Kernel = field(default_factory=lambda: Kernel({}))

    def __post_init__(self) -> None:
        flaws = Flaws(self.flaws)
        EnableLines(self.kernel, flaws)
        SafetyRelay(self.kernel, CHAIN, flaws, lambda: 0.0)
        for channel in CHANNELS:
            self.set(0.0, **{net.value: 1 for net in channel})
        self.kernel.run(0.0)

    def set(self, at_s: float, **nets: float) -> None:
        for name, value in nets.items():
            self.kernel.after(at_s - self.kernel.now, partial(self.kernel.put, Net(name), value))

    def reset(self, at_s: float, seconds: float = 0.3) -> None:
        self.set(at_s, reset=1)
        self.set(at_s + seconds, reset=0)

    def permit(self, until_s: float, net: Net = Net.PERMIT_DRIVE) -> list[tuple[float, float]]:
        """Changes of a line up to then, times rounded to the millisecond."""
        self.kernel.run(until_s)
        track = self.kernel.tracks[net]
        return [(round(t, 3), v) for t, v in zip(track.times[1:], track.values[1:], strict=True)]


def test_reset_acts_44_ms_after_its_release() -> None:
    rig = Rig()
    rig.reset(1.0)
    assert rig.permit(3.0) == [(1.344, 1.0)]


@pytest.mark.parametrize("channel", [0, 1])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_any_contact_of_any_channel_takes_both_lines_down_in_12_ms(channel: int, place: int) -> None:
    rig = Rig()
    rig.reset(1.0)
    rig.set(2.0, **{CHANNELS[channel][place].value: 0})
    for line in (Net.PERMIT_DRIVE, Net.PERMIT_LOAD):
        assert rig.permit(3.0, line)[-1] == (2.012, 0.0)


def test_closing_alone_and_pressing_alone_bring_nothing() -> None:
    rig = Rig()
    rig.reset(1.0)
    rig.set(2.0, cover_1=0, cover_2=0)
    rig.set(3.0, cover_1=1, cover_2=1)
    rig.set(4.0, reset=1)
    assert rig.permit(6.0)[-1] == (2.012, 0.0)


def test_a_press_while_open_does_not_count_for_a_release_after_closing() -> None:
    rig = Rig()
    rig.reset(1.0)
    rig.set(2.0, cover_1=0, cover_2=0)
    rig.set(2.5, reset=1)
    rig.set(3.0, cover_1=1, cover_2=1)
    rig.set(3.5, reset=0)
    assert rig.permit(5.0)[-1] == (2.012, 0.0)


def test_opening_between_press_and_release_spoils_the_reset() -> None:
    rig = Rig()
    rig.set(1.0, reset=1)
    rig.set(1.1, cover_1=0, cover_2=0)
    rig.set(1.2, cover_1=1, cover_2=1)
    rig.set(1.5, reset=0)
    assert rig.permit(3.0) == []


def test_a_button_held_longer_than_the_limit_is_taken_as_stuck() -> None:
    rig = Rig()
    rig.reset(1.0, CHAIN.reset_hold_max_s + 0.1)
    assert rig.permit(6.0) == []


def again_after(rig: Rig, opened: dict[str, float], closed: dict[str, float]) -> bool:
    """Whether a reset works after contacts opened (name: when) and closed again."""
    rig.reset(1.0)
    for moves, value in ((opened, 0), (closed, 1)):
        for name, at_s in moves.items():
            rig.set(at_s, **{name: value})
    rig.reset(4.0)
    return rig.permit(6.0)[-1] == (4.344, 1.0)


@pytest.mark.parametrize(
    ("second_opens", "second_closes", "works"),
    [
        (2.03, 3.03, True),  # within the discrepancy time
        (2.10, 3.03, True),  # late, but both were then seen open
        (2.03, 3.10, False),  # late when closing: locked out
        (None, None, False),  # never opens
    ],
)
def test_comparison_of_the_cover_channels(
    second_opens: float | None, second_closes: float | None, works: bool
) -> None:
    opened, closed = {"cover_1": 2.0}, {"cover_1": 3.0}
    if second_opens is not None and second_closes is not None:
        opened["cover_2"], closed["cover_2"] = second_opens, second_closes
    assert again_after(Rig(), opened, closed) is works


def test_a_short_opening_of_one_channel_alone_is_not_forgotten() -> None:
    assert not again_after(Rig(), {"cover_1": 2.0}, {"cover_1": 2.01})


def test_a_lock_out_ends_when_both_were_open() -> None:
    rig = Rig()
    assert not again_after(rig, {"cover_1": 2.0}, {"cover_1": 3.0})
    rig.set(7.0, cover_1=0, cover_2=0)
    rig.set(8.0, cover_1=1, cover_2=1)
    rig.reset(9.0)
    assert rig.permit(11.0)[-1] == (9.344, 1.0)


@pytest.mark.parametrize(("flaws", "hidden"), [((), False), ((Defect.CHANNEL_2_STUCK_MASKED,), True)])
def test_another_device_hides_a_stuck_contact_only_from_a_relay_that_compares_whole_channels(
    flaws: tuple[Defect, ...], hidden: bool
) -> None:
    """Fault masking by contacts in series: ISO/TR 24119 (from memory)."""
    rig = Rig(flaws)
    assert not again_after(rig, {"cover_1": 2.0}, {"cover_1": 3.0})
    rig.set(7.0, stop_1=0, stop_2=0)
    rig.set(8.0, stop_1=1, stop_2=1)
    rig.reset(9.0)
    assert (rig.permit(11.0)[-1] == (9.344, 1.0)) is hidden


@pytest.mark.parametrize(
    ("defect", "rises_at"),
    [
        (Defect.RESET_ON_PRESS, 4.044),
        (Defect.LATCH_MISSING, 3.044),
        (Defect.TORQUE_ON_RELEASE, 3.044),
    ],
)
def test_defects_move_the_return_of_the_lines(defect: Defect, rises_at: float) -> None:
    rig = Rig((defect,))
    rig.reset(1.0)
    rig.set(2.0, cover_1=0, cover_2=0)
    rig.set(3.0, cover_1=1, cover_2=1)
    rig.reset(4.0)
    rises = [t for t, value in rig.permit(6.0) if value]
    assert rises[-1] == rises_at


def test_defect_reset_during_demand() -> None:
    rig = Rig((Defect.RESET_DURING_DEMAND,))
    rig.reset(1.0)
    rig.set(2.0, cover_1=0, cover_2=0)
    rig.reset(2.5)
    assert rig.permit(4.0)[-1] == (2.844, 1.0)


@pytest.mark.parametrize("opened", [{"cover_1": 2.0}, {"cover_1": 2.0, "cover_2": 2.2}])
def test_defect_no_comparison(opened: dict[str, float]) -> None:
    closed = dict.fromkeys(opened, 3.0)
    assert again_after(Rig((Defect.CHANNEL_2_STUCK_UNSEEN,)), opened, closed)


def test_defect_relay_slow_and_a_line_that_sticks() -> None:
    rig = Rig((Defect.RELAY_SLOW, Defect.ENABLE_STUCK_LOAD))
    rig.reset(1.0)
    rig.set(2.0, stop_1=0, stop_2=0)
    assert rig.permit(3.0)[-1] == (2.252, 0.0)
    assert rig.permit(3.0, Net.PERMIT_LOAD) == [(1.344, 1.0)]
    assert rig.kernel[Net.OUTPUT_2] == 0


def test_defect_bouncing_lines() -> None:
    rig = Rig((Defect.ENABLE_BOUNCES,))
    rig.reset(1.0)
    rig.set(2.0, stop_1=0, stop_2=0)
    assert rig.permit(3.0) == [(1.344, 1.0), (2.012, 0.0), (2.062, 1.0), (2.112, 0.0)]
