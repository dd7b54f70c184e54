"""The subsystems of the `rating:` section: how parts make up channels, or what a maker says of the whole."""

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from interlock.rating.ccf import ccf_score
from interlock.rating.iec62061_ccf import ccf_points
from interlock.rating.input_values import Beta, Rate, Share, category_text
from interlock.rating.strict import Level, Positive, Strict, Text, one_of

__all__ = ["CategoryTestInput", "Iec62061", "SeriesGuards", "Subsystem"]


class CategoryTestInput(Strict):
    """How the channel of category 2 is tested."""

    on_demand_in_time: bool = False
    tests_per_demand: Positive | None = None
    test_channel_mttfd_years: Positive | None = None


class SeriesGuards(Strict):
    """Guard switches wired in series to one logic unit: how many guards are opened hourly, how many more rarely."""

    frequent: Annotated[int, Field(ge=0)]
    others: Annotated[int, Field(ge=0)]
    switches: Annotated[list[Text], Field(min_length=1)]


class Iec62061(Strict):
    """What a subsystem needs, beside its parts, to be rated by IEC 62061.

    The common-cause factor is `beta`, or follows from `ccf`, the measures taken of the list of this standard, with
    `ccf_without`: the reason for each expected measure that is not taken.
    """

    architecture: Literal["A", "B", "C", "D"] | None = None
    sil: Literal[1, 2, 3] | None = None
    pfh_per_h: Rate | None = None
    beta: Beta | None = None
    ccf: Annotated[list[Text], Field(min_length=1)] | None = None
    ccf_without: dict[str, Text] = Field(default_factory=dict)
    proof_test_h: Positive | None = None
    diagnostic_test_h: Positive | None = None
    safe_failure_fraction: Share | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        one_of(self, "architecture", "sil")
        need = {"B": ("beta", "proof_test_h"), "D": ("beta", "proof_test_h", "diagnostic_test_h")}
        wanted = need.get(self.architecture or "", ()) if self.sil is None else ("pfh_per_h",)
        given = {"beta": self.beta if self.beta is not None else self.ccf}
        missing = [name for name in wanted if given.get(name, getattr(self, name)) is None]
        if missing:
            told = ["beta (or ccf)" if name == "beta" else name for name in missing]
            raise ValueError(f"also needed: {', '.join(told)}")
        return self

    @model_validator(mode="after")
    def _common_cause(self) -> Self:
        if self.ccf is None and self.ccf_without:
            raise ValueError("ccf_without goes with ccf")
        if self.ccf is not None:
            if self.beta is not None or self.architecture not in ("B", "D"):
                raise ValueError("ccf is for architecture B or D, in place of beta")
            ccf_points(self.ccf, self.ccf_without)
        return self


class Subsystem(Strict):
    """One element of the chain in series: built of parts with a claimed category, or rated by its maker.

    `devices`: which devices of the bench it is; all on the way from demand to effect must be named somewhere.
    `coverage_at_most`: the best class of coverage of its parts, where their layout hides faults.
    """

    devices: list[Text] = Field(default_factory=list)
    coverage_at_most: Literal["none", "low", "medium"] | None = None
    category: Annotated[str, BeforeValidator(category_text)] | None = None
    channels: (
        Annotated[list[Annotated[list[Text], Field(min_length=1)]], Field(min_length=1, max_length=2)] | None
    ) = None
    ccf: list[Text] = Field(default_factory=list)
    test: CategoryTestInput | None = None
    series_guards: SeriesGuards | None = None
    pl: Level | None = None
    pfhd_per_h: Rate | None = None
    source: Text | None = None
    iec62061: Iec62061 | None = None

    @model_validator(mode="after")
    def _built_or_rated(self) -> Self:
        one_of(self, "category", "pl")
        if (self.channels is None) != (self.category is None):
            raise ValueError(
                "category and channels go together; a maker's rating is pl, pfhd_per_h and source"
            )
        if self.pl is not None and self.source is None:
            raise ValueError("a maker's rating needs source: which document says so")
        if self.category is not None and self.pfhd_per_h is not None:
            raise ValueError("pfhd_per_h is computed for a subsystem built of parts: leave it out")
        ccf_score(self.ccf)
        return self

    @model_validator(mode="after")
    def _no_part_twice(self) -> Self:
        names = [name for channel in self.channels or [] for name in channel]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(
                f"{', '.join(twice)} named twice: one part cannot stand in two places of the channels"
            )
        return self
