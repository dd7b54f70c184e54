"""Whether the failure rates hold over the mission time: 20 years at most, and no part used beyond its T10d."""

from interlock.rating.ends import Ends
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.inputs_part import Part
from interlock.rating.iso13849_clauses import clause
from interlock.rating.rate_part import part_figures
from interlock.rating.result import Judgement
from interlock.rating.step import Trail
from interlock.rating.values import needed
from interlock.verdict import Verdict

__all__ = ["judge_mission"]

_TABLE_YEARS = 20.0


def judge_mission(
    function: Function, inputs: RatingInputs, worse: Ends, better: Ends, trail: Trail
) -> list[Judgement]:
    """One judgement on the mission time itself if it is too long, and one for each part that wears."""
    found = [_part(name, inputs, worse, better, trail) for name in _wearing(function, inputs)]
    if inputs.mission_time_years > _TABLE_YEARS:
        text = (
            f"The mission time is {inputs.mission_time_years:g} years, the table holds for {_TABLE_YEARS:g}: "
            "replace the safety-related parts by then and state 20 years or less."
        )
        found.insert(0, Judgement("mission time", Verdict.FAIL, clause(inputs.edition, "mission"), text))
    return found


def _wearing(function: Function, inputs: RatingInputs) -> list[str]:
    named = [
        part
        for subsystem in function.subsystems.values()
        for channel in subsystem.channels or []
        for part in channel
        if inputs.parts[part].wears
    ]
    return list(dict.fromkeys(named))


def _part(name: str, inputs: RatingInputs, worse: Ends, better: Ends, trail: Trail) -> Judgement:
    part, mission = inputs.parts[name], inputs.mission_time_years
    life, longest = (_t10d(name, part, inputs, ends) for ends in (worse, better))
    used = min(part.replaced_every_years or mission, mission)
    source = clause(inputs.edition, "mission")
    numbers = {"T10d": life, "mission": mission}
    formula, least = "min(T10d, mission)", min(life, mission)
    trail.note(f"{name}: replace within", formula, numbers, least, unit="years", source=source)
    text = f"{name} is used for {used:g} years, its T10d is {life:.4g} years"
    if used <= life:
        return Judgement("mission time", Verdict.PASS, source, f"{text}.")
    verdict = Verdict.INCONCLUSIVE if used <= longest else Verdict.FAIL
    cure = f"the claim is refused: plan its replacement (replaced_every_years, at most {life:.4g})"
    return Judgement("mission time", verdict, source, f"{text}; {cure}.")


def _t10d(name: str, part: Part, inputs: RatingInputs, ends: Ends) -> float:
    figures = needed(f"figures of {name}", part_figures(name, part, inputs.edition, ends, Trail()))
    return needed(f"T10d of {name}", figures.t10d)
