"""What a person does at the bench, and when."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

__all__ = ["DEMANDS", "RELEASES", "Act", "Deed", "Scenario", "humanly"]


class Act(StrEnum):
    """One act on one device; the set acts carry a value."""

    OPEN_COVER = "open cover"
    CLOSE_COVER = "close cover"
    PRESS_STOP = "press torque-off button"
    RELEASE_STOP = "release torque-off button"
    PRESS_EMERGENCY = "press emergency stop"
    RELEASE_EMERGENCY = "release emergency stop"
    PRESS_RESET = "press reset"
    RELEASE_RESET = "release reset"
    PRESS_SUPPLY = "press supply-on"
    RELEASE_SUPPLY = "release supply-on"
    START = "start"
    SET_SPEED = "set speed reference"
    SET_TORQUE = "set torque reference"


DEMANDS: Final = {
    Act.OPEN_COVER: "cover",
    Act.PRESS_STOP: "button",
    Act.PRESS_EMERGENCY: "emergency",
}
"""The acts that ask for a stop, and how the truth record calls them."""

RELEASES: Final = (Act.CLOSE_COVER, Act.RELEASE_STOP, Act.RELEASE_EMERGENCY)


@dataclass(frozen=True, slots=True)
class Deed:
    """An act at an instant (seconds from power-up)."""

    at_s: float
    act: Act
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Scenario:
    """Deeds in order, and when the log ends. At power-up every device asks for a stop, nothing is on."""

    deeds: tuple[Deed, ...]
    end_s: float

    def __post_init__(self) -> None:
        times = [deed.at_s for deed in self.deeds]
        if times != sorted(times) or (times and not 0 <= times[0] <= times[-1] <= self.end_s):
            raise ValueError("deeds must come in order, between power-up and the end of the log")


def humanly(scenario: Scenario, rng: np.random.Generator, spread_s: float = 0.01) -> Scenario:
    """The same deeds, each later by up to `spread_s`: nobody presses on the tick of a message.

    Deeds of one instant stay together.
    """
    moved: dict[float, float] = {}
    for deed in scenario.deeds:
        moved.setdefault(deed.at_s, deed.at_s + float(rng.uniform(0.0, spread_s)))
    deeds = tuple(Deed(moved[deed.at_s], deed.act, deed.value) for deed in scenario.deeds)
    return Scenario(tuple(sorted(deeds, key=lambda deed: deed.at_s)), scenario.end_s + spread_s)
