"""The parts of the `rating:` section about the bench as a whole: discharge of the bus, wear, low demand.

As in the rest of the section every number is plain, with its unit in the key; days are written "2026-01-31".
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from interlock.rating.counted import Decides
from interlock.rating.input_values import Beta, Day, Longer, Rate, Share, Smaller
from interlock.rating.strict import NotNegative, Positive, Strict, Text
from interlock.rating.values import as_written

__all__ = ["DischargeInput", "Element", "LowDemand", "UnitEmf", "WearInput"]


class UnitEmf(Strict):
    """What a unit feeds back into the bus while the other one turns it.

    `emf_v_s_per_rad`: peak between lines at 1 rad/s; 0 for a unit without magnets.
    """

    emf_v_s_per_rad: NotNegative
    source: Text


class DischargeInput(Strict):
    """How the DC bus loses its charge after the contactor has opened.

    The time constant, [low, high], or capacitance and bleeder with their tolerances; neither: only a log tells.
    """

    source: Text
    highest_supply_v: Positive
    time_constant_s: Smaller | None = None
    capacitance_f: Smaller | None = None
    bleeder_ohm: Smaller | None = None
    exposed_pins: bool = False
    units: dict[str, UnitEmf]
    slow_enough_s: Annotated[list[NotNegative], Field(min_length=2, max_length=2)] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if self.time_constant_s is not None and self.capacitance_f is not None:
            raise ValueError("give time_constant_s, or capacitance_f with bleeder_ohm, not both")
        if (self.capacitance_f is None) != (self.bleeder_ohm is None):
            raise ValueError("capacitance_f and bleeder_ohm go together")
        if self.slow_enough_s is not None and self.slow_enough_s[0] > self.slow_enough_s[1]:
            raise ValueError("slow_enough_s: give the lower bound first")
        return self


class WearInput(Strict):
    """One part that wears, and what was counted on it; load-breaking emergency stops are counted apart.

    `device`: the device whose counts in the register are those of this part (its own name if not given); `decides`:
    which rate of use counts where both are known.
    """

    source: Text
    device: Text | None = None
    decides: Decides = "larger"
    b10d: Longer
    b10d_load_break: Longer
    installed: Day
    since: Day
    until: Day
    operations: Annotated[int, Field(ge=0)]
    load_breaks: Annotated[int, Field(ge=0)]
    count_holds_days: Annotated[float, Field(gt=0, le=36500)] = 400.0

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.installed <= self.since < self.until:
            raise ValueError(
                f"installed {self.installed}, counted from {self.since} until {self.until}: the days must come in "
                "this order, with at least one day of counting"
            )
        return self


class Element(Strict):
    """One element of a chain in series, by its dangerous failures an hour: undetected and detected ones.

    `devices`: which devices of the bench it is. `proof_test_coverage`: the most that a proof test finds of it; the
    derived test may find less. `fault_shares`: by fault of these devices ("contactor.welds") which share of the
    undetected dangerous failures it has; needed where the derived test does not show all of them. `lambda_sd_per_h`
    and `switching` (the share of comparisons that switch over rightly, K) are for 1oo2D alone.
    """

    devices: Annotated[list[Text], Field(min_length=1)]
    architecture: Literal["1oo1", "1oo2", "2oo2", "1oo2D", "2oo3"]
    lambda_du_per_h: Rate
    lambda_dd_per_h: NotNegative = 0.0
    lambda_sd_per_h: NotNegative | None = None
    switching: Annotated[float, Field(ge=0, le=1)] | None = None
    proof_test_h: Positive
    proof_test_coverage: Share | Literal["complete"]
    fault_shares: Annotated[dict[str, Annotated[float, Field(gt=0, le=1)]], Field(min_length=1)] | None = None
    lifetime_h: Positive
    mttr_h: NotNegative
    beta: Beta | None = None
    beta_d: Beta | None = None
    source: Text

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.architecture in ("1oo2", "1oo2D", "2oo3") and (self.beta is None or self.beta_d is None):
            raise ValueError(
                f"{self.architecture} needs beta and beta_d: the shares of common cause failures"
            )
        if self.lifetime_h < self.proof_test_h:
            raise ValueError("lifetime_h is shorter than proof_test_h: give the hours until replacement")
        if self.lambda_dd_per_h > 1e-4:
            raise ValueError("lambda_dd_per_h: give dangerous failures an hour, at most 1e-4")
        return self

    @model_validator(mode="after")
    def _switched_over(self) -> Self:
        own = {"lambda_sd_per_h": self.lambda_sd_per_h, "switching": self.switching}
        wanted = self.architecture == "1oo2D"
        wrong = [name for name, value in own.items() if (value is None) == wanted]
        if wrong:
            raise ValueError(
                f"1oo2D needs {' and '.join(wrong)}" if wanted else f"{' and '.join(wrong)}: only for 1oo2D"
            )
        if self.lambda_sd_per_h is not None and self.lambda_sd_per_h > 1e-4:
            raise ValueError("lambda_sd_per_h: give safe detected failures an hour, at most 1e-4")
        return self

    @model_validator(mode="after")
    def _shares(self) -> Self:
        shares = self.fault_shares or {}
        strange = [name for name in shares if name.partition(".")[0] not in self.devices]
        if strange:
            raise ValueError(
                f"fault_shares names {', '.join(strange)}: name faults of {', '.join(self.devices)}"
            )
        if sum(map(as_written, shares.values())) > 1:
            raise ValueError("fault_shares add up to more than 1: give shares of the dangerous failures")
        return self


class LowDemand(Strict):
    """A function demanded at most once a year, rated by its average probability of failure on demand.

    `effects` and `not_rated` as for a function that is rated by its level.
    """

    required_sil: Literal[1, 2, 3]
    demands_per_year: Positive
    effects: Annotated[list[Text], Field(min_length=1)] | None = None
    elements: Annotated[dict[str, Element], Field(min_length=1)]
    not_rated: dict[str, Text] = Field(default_factory=dict)
