"""Whether a claimed category is borne out by structure, parts, tests and measures: ISO 13849-1, 6.2."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from interlock.errors import RatingError
from interlock.rating.ccf import ENOUGH, ccf_enough
from interlock.rating.iso13849_dc import dc_class
from interlock.rating.iso13849_mttfd import category_name, mttfd_class
from interlock.rating.iso13849_pfhd import column_class
from interlock.rating.values import positive

__all__ = ["CategoryTest", "Claim", "Requirement", "check_claim"]


@dataclass(frozen=True, slots=True)
class Requirement:
    """What a category asks for, in short, and the clause."""

    channels: int
    structure: str
    high_mttfd: bool
    ccf: bool
    clause: str


REQUIREMENTS: Final = {
    "B": Requirement(1, "one channel, basic safety principles", False, False, "6.2.3"),
    "1": Requirement(1, "one channel of well-tried parts and principles", True, False, "6.2.4"),
    "2": Requirement(1, "one channel with a test channel", False, True, "6.2.5"),
    "3": Requirement(2, "a single fault does not lose the function", False, True, "6.2.6"),
    "4": Requirement(2, "no single fault, nor faults that add up, lose the function", True, True, "6.2.7"),
}
"""By category."""


@dataclass(frozen=True, slots=True)
class CategoryTest:
    """How the channel of category 2 is tested: at each demand in time, or so often per demand; years."""

    on_demand_in_time: bool = False
    tests_per_demand: float | None = None
    test_channel_mttfd: float | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """A category claimed and the reasons to refuse it; without reasons it stands.

    `proven` is False while nobody has shown which categories the structure supports.
    """

    category: str
    refused_because: tuple[str, ...]
    proven: bool

    @property
    def stands(self) -> bool:
        """True if nothing speaks against the claim (it may still be unproven)."""
        return not self.refused_because


def check_claim(
    category: object,
    *,
    supported: Collection[object] | None,
    channels: int,
    mttfd: float,
    dc_average: float,
    ccf_score: int = 0,
    test: CategoryTest | None = None,
    mttfd_at_most: float | None = None,
) -> Claim:
    """Every reason why the category may not be claimed; `supported` is what the structure was shown to carry.

    `mttfd` in years of each channel after symmetrising, `dc_average` a fraction. None for `supported`: the
    structure was not examined, the claim is unproven. `mttfd_at_most`: the best that the channel may have if
    only a range is known; the test channel of category 2 must stand up to it.
    Source: ISO 13849-1:2006 and 2015, 6.2.3 to 6.2.7.
    """
    name = category_name(category)
    needed = REQUIREMENTS[name]
    reasons = [
        *_structure(name, supported, channels),
        *_mttfd(name, mttfd),
        *_coverage(name, dc_average),
        *(_ccf(name, ccf_score) if needed.ccf else ()),
        *(_tested(max(mttfd, mttfd_at_most or mttfd), test) if name == "2" else ()),
    ]
    return Claim(name, tuple(reasons), supported is not None)


def _structure(name: str, supported: Collection[object] | None, channels: int) -> list[str]:
    needed = REQUIREMENTS[name]
    reasons = []
    if channels != needed.channels:
        reasons.append(
            f"category {name} is {needed.structure}: {needed.channels} channel(s), {channels} given"
        )
    if supported is not None and name not in (
        carried := sorted(map(category_name, supported), key="B1234".index)
    ):
        have = f"only category {' or '.join(carried)}" if carried else "no category"
        reasons.append(
            f"the structure as wired supports {have}; category {name} asks that {needed.structure} "
            f"(`interlock check --faults {2 if name == '4' else 1}` tells which one does)"
        )
    return reasons


def _mttfd(name: str, mttfd: float) -> list[str]:
    try:
        found = mttfd_class(mttfd)
    except RatingError as error:
        return [str(error)]
    if REQUIREMENTS[name].high_mttfd and found != "high":
        return [f"category {name} needs 30 years or more in each channel, {mttfd:.4g} years reached"]
    return []


def _coverage(name: str, dc_average: float) -> list[str]:
    try:
        column_class(name, dc_class(dc_average))
    except RatingError as error:
        return [f"average coverage {100 * dc_average:.4g} %: {error}"]
    return []


def _ccf(name: str, score: int) -> list[str]:
    if ccf_enough(score):
        return []
    return [f"category {name} needs {ENOUGH} points against common cause failure (Annex F), {score} reached"]


def _tested(mttfd: float, test: CategoryTest | None) -> list[str]:
    """The conditions of category 2 on test rate and test channel. Source: 4.5.4 (2015 adds the test on demand)."""
    if test is None:
        return ["category 2 needs a test: state its rate or that it runs at each demand in time (4.5.4)"]
    reasons = []
    if not test.on_demand_in_time:
        often = (
            None
            if test.tests_per_demand is None
            else positive("tests_per_demand", test.tests_per_demand, ">0")
        )
        if often is None or often < 100:
            reasons.append(
                "category 2 needs 100 tests a demand, or a test at each demand with reaction in time"
            )
    own = test.test_channel_mttfd
    if own is None or positive("test_channel_mttfd", own, "years, above 0") <= mttfd / 2:
        reasons.append(f"the test channel needs an MTTFd above half of the channel's, {mttfd / 2:.4g} years")
    return reasons
