"""The right benches of other shapes, changed line by line."""

from pathlib import Path

from interlock.bench import Bench, parse_bench
from interlock.chain import CheckResult, PropertyResult, check
from interlock.verdict import Verdict

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"


def shape(name: str, *changes: tuple[str, str]) -> Bench:
    """The bench with the first occurrence of each old text replaced by the new one."""
    text = (SHAPES / f"{name}.yaml").read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return parse_bench(f"{name}.yaml", text)


def judged(name: str, *changes: tuple[str, str]) -> CheckResult:
    """What the check says of it."""
    return check(shape(name, *changes))


def not_passed(result: CheckResult) -> dict[str, Verdict]:
    """The properties that did not pass, each by its id."""
    return {one.id: one.verdict for one in result.properties if one.verdict is not Verdict.PASS}


def of(
    result: CheckResult, rule: str, function: str | None = None, subject: str | None = None
) -> PropertyResult:
    """The one property of the rule, of the function and subject if given."""
    [found] = [
        one
        for one in result.properties
        if one.id == rule and function in (None, one.function) and subject in (None, one.subject)
    ]
    return found
