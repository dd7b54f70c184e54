"""The right benches that mutants are made from."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from chain_benches import EXPECTED, WRONG, patched

from interlock.bench import Bench

__all__ = ["RIGHT", "small"]

ROOT = Path(__file__).resolve().parents[2]
SHAPES = ROOT / "tests" / "benches" / "shapes"


def small() -> Bench:
    """A bench with one unit, small enough for every test run."""
    return patched(WRONG / "01_latch_not_sealed.yaml", EXPECTED["01_latch_not_sealed.yaml"]["mend"])


RIGHT: dict[str, Callable[[], Bench]] = {
    "small": small,
    "demo": partial(patched, ROOT / "interlock" / "demo" / "bench.yaml", {}),
    **{
        name: partial(patched, SHAPES / f"{name}.yaml", {})
        for name in ("guard_locking", "stop_category_1", "contactor_pair", "set_up_key")
    },
}
