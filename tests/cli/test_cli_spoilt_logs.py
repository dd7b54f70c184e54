"""A sound log spoilt as files are spoilt: whatever was done to it as a whole, the verb never calls it a pass."""

from collections.abc import Callable
from pathlib import Path

import pytest

BENCH = "interlock/demo/bench.yaml"
Lines = list[str]


def frozen_from_the_middle(lines: Lines) -> Lines:
    """Every frame keeps coming in time, but shows what its message showed last in the first half."""
    shown: dict[str, str] = {}
    half = len(lines) // 2
    for line in lines[:half]:
        head, _, data = line.rpartition("#")
        shown[head.split()[-1]] = data
    late = [line.rpartition("#")[0] for line in lines[half:]]
    return [*lines[:half], *(f"{head}#{shown[head.split()[-1]]}" for head in late)]


SPOILT: dict[str, Callable[[Lines], Lines]] = {
    "backwards": lambda lines: lines[::-1],
    "every second frame": lambda lines: lines[::2],
    "halves changed over": lambda lines: lines[len(lines) // 2 :] + lines[: len(lines) // 2],
    "twice in a row": lambda lines: lines + lines,
    "each frame twice": lambda lines: [line for line in lines for _ in range(2)],
    "without its middle": lambda lines: lines[: len(lines) // 3] + lines[2 * len(lines) // 3 :],
    "frozen from the middle": frozen_from_the_middle,
}


@pytest.mark.parametrize("how", SPOILT)
def test_a_log_spoilt_as_a_whole_is_never_a_pass(interlock, root, demo_log, tmp_path: Path, how: str) -> None:
    spoilt = tmp_path / "spoilt.log"
    lines = SPOILT[how](demo_log.read_text("ascii").splitlines())
    spoilt.write_text("\n".join(lines) + "\n", "ascii")
    said = interlock("replay", root / BENCH, spoilt)
    assert said.code in (1, 3)
    assert "Verdict: pass" not in said.out


def test_a_copy_beside_the_log_makes_no_pass_of_two(interlock, root, demo_log, tmp_path: Path) -> None:
    copy = tmp_path / "copy.log"
    copy.write_bytes(demo_log.read_bytes())
    assert interlock("replay", root / BENCH, demo_log, copy).code == 3


def test_the_log_itself_is_one(interlock, root, demo_log) -> None:
    assert interlock("replay", root / BENCH, demo_log).code == 0
