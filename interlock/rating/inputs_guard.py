"""The guard of a function in the `rating:` section: where it stands, and how it is unlocked if it is locked."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from interlock.rating.input_values import Day
from interlock.rating.strict import NotNegative, Positive, Strict, Text

__all__ = ["Guard", "UnlockTimed"]


class UnlockTimed(Strict):
    """How long the guard kept a person out: seconds from the start of the stop until it could be opened.

    `times_s`: each opening, done as fast as can be; `uncertain_s`: the most by which any of them may be wrong;
    `how`: by whom and with what; `holds_days`: for how long after `day` they count.
    """

    times_s: Annotated[list[Positive], Field(min_length=3)]
    uncertain_s: Positive
    day: Day
    how: Text
    holds_days: Annotated[float, Field(gt=0, le=36500)] = 400.0

    @property
    def shortest_s(self) -> float:
        """The time that counts: a person who hurries is the one to keep out."""
        return min(self.times_s)


class Guard(Strict):
    """Where the guard stands, and how it is unlocked if it is locked.

    `unlock_delay_s`: the least time that is stated from the start of the stop until it can be opened;
    `unlock_timed`: what shows that it does hold so long. Without it nothing does.
    """

    distance_mm: Positive
    approach_speed_mm_s: Annotated[float, Field(ge=1600, le=2000)]
    intrusion_mm: NotNegative
    opening_time_s: Annotated[float, Field(ge=0, le=10)] = 0.0
    unlock: Literal["none", "delay", "standstill"] = "none"
    unlock_delay_s: Positive | None = None
    unlock_timed: UnlockTimed | None = None

    @model_validator(mode="after")
    def _delay(self) -> Self:
        if (self.unlock == "delay") != (self.unlock_delay_s is not None):
            raise ValueError("unlock_delay_s goes with unlock: delay")
        if self.unlock_timed is not None and self.unlock != "delay":
            raise ValueError("unlock_timed goes with unlock: delay")
        return self
