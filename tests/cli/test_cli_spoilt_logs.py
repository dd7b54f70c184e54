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


@pytest.mark.parametrize("stretch", [1, 2], ids=["all of it", "half of it"])
def test_a_log_with_each_frame_twice_is_taken_once_if_all_of_it_is(
    interlock, root, demo_log, tmp_path: Path, stretch: int
) -> None:
    """No bus carries two frames within one stamp: what stands twice everywhere is the way of the recorder."""
    doubled = tmp_path / "doubled.log"
    lines = demo_log.read_text("ascii").splitlines()
    twice = [line for line in lines[: len(lines) // stretch] for _ in range(2)]
    doubled.write_text("\n".join([*twice, *lines[len(lines) // stretch :]]) + "\n", "ascii")
    said = interlock("replay", root / BENCH, doubled)
    told = " ".join(said.out.split())
    assert said.code == (0 if stretch == 1 else 3)
    assert (f"each was taken once, {len(lines)} were left out" in told) is (stretch == 1)


def test_a_copy_beside_the_log_makes_no_pass_of_two(interlock, root, demo_log, tmp_path: Path) -> None:
    copy = tmp_path / "copy.log"
    copy.write_bytes(demo_log.read_bytes())
    assert interlock("replay", root / BENCH, demo_log, copy).code == 3


def test_the_log_itself_is_one(interlock, root, demo_log) -> None:
    assert interlock("replay", root / BENCH, demo_log).code == 0
