"""`python -m tests.mutants [BENCH...] [--json] [--all]`: are wrong benches found? The score, and every mutant alive.

The score is the share of the mutants that behave differently and do not pass. A mutant that passes although it
behaves differently is listed with the reason why it harms nobody; one without a reason makes the command fail.
"""

import argparse
import json
import os
import re
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "chain")]

from mutants.right import RIGHT  # noqa: E402
from mutants.score import Fate, Mutated, fates, reasons, unexplained  # noqa: E402


def main() -> int:
    """Print each bench's score; exit code 1 if a living mutant has no reason."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__.splitlines()[0])
    parser.add_argument("benches", nargs="*", metavar="BENCH", help=f"of {', '.join(RIGHT)}; none: all")
    parser.add_argument("--json", action="store_true", help="one JSON object a bench and line")
    parser.add_argument("--all", action="store_true", help="print every mutant, not only those alive")
    asked = parser.parse_args()
    if strange := set(asked.benches) - set(RIGHT):
        parser.error(f"no such bench: {', '.join(sorted(strange))}; choose from {', '.join(RIGHT)}")
    open_points = 0
    for name in asked.benches or RIGHT:
        found = fates(RIGHT[name](), workers=os.cpu_count() or 1)
        why = reasons(name)
        left = list(unexplained(found, why))
        open_points += len(left)
        say = as_json if asked.json else as_text
        print(say(name, found, why, left, asked.all), flush=True)
    return 1 if open_points else 0


def score(found: list[Mutated]) -> tuple[int, int]:
    """How many mutants were found wrong, of how many that behave differently."""
    count = Counter(one.fate for one in found)
    return len(found) - count[Fate.SAME] - count[Fate.ALIVE], len(found) - count[Fate.SAME]


def reason(one: Mutated, why: dict[str, str]) -> str:
    """Why a living mutant is harmless; empty: nobody knows."""
    return next((said for pattern, said in why.items() if re.fullmatch(pattern, one.name)), "")


def as_text(name: str, found: list[Mutated], why: dict[str, str], left: list[str], every: bool) -> str:
    """The score and the list as lines."""
    caught, changed = score(found)
    lines = [f"{name}: {caught} of {changed} mutants found ({caught / changed:.1%})"]
    lines += [f"  {number:5} {kind}" for kind, number in Counter(one.fate for one in found).most_common()]
    if every:
        lines += [
            f"  {one.name}: {one.fate}{f' ({one.by})' if one.by else ''}"
            for one in found
            if one.fate is not Fate.ALIVE
        ]
    alive = [one for one in found if one.fate is Fate.ALIVE]
    for said in dict.fromkeys(reason(one, why) for one in alive):
        lines.append(f"  alive; {said or 'NO REASON KNOWN'}:")
        lines += [f"    {one.name}" for one in alive if reason(one, why) == said]
    return "\n".join([*lines, *(f"  OPEN: {text}" for text in left)])


def as_json(name: str, found: list[Mutated], why: dict[str, str], left: list[str], every: bool) -> str:
    """The same as one JSON object."""
    caught, changed = score(found)
    shown = [one for one in found if every or one.fate is Fate.ALIVE]
    return json.dumps(
        {
            "bench": name,
            "found": caught,
            "changed": changed,
            "score": caught / changed,
            "fates": dict(Counter(one.fate.value for one in found)),
            "mutants": [
                {"name": one.name, "fate": one.fate.value, "by": one.by, "reason": reason(one, why)}
                for one in shown
            ],
            "open": left,
        }
    )


if __name__ == "__main__":
    sys.exit(main())
