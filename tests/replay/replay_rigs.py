"""Logs of the rigs of `loggen_rigs`, judged by the bench files of the same name among the shapes."""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from loggen_rig import Rig
from loggen_rigs import played

from interlock.bench import load_bench
from interlock.replay import Judgement, replay

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"


def files(shape: str, defect: str, folder: Path, keys: tuple[str, ...] = ()) -> tuple[Path, Path]:
    """The bench file with its section `shows`, and the log; the data base lies beside them."""
    rig, end = played(shape, defect, keys)
    bench, log = folder / f"{shape}.yaml", folder / f"{defect or 'sound'}.log"
    (folder / "rig.dbc").write_text(rig.dbc(), encoding="ascii")
    bench.write_text((SHAPES / f"{shape}.yaml").read_text(encoding="utf-8") + rig.shows(), encoding="utf-8")
    log.write_text(rig.candump(end), encoding="ascii")
    return bench, log


@cache
def told(shape: str, defect: str = "", keys: tuple[str, ...] = ()) -> Judgement:
    """What the package says of the log."""
    with TemporaryDirectory() as folder:
        bench, log = files(shape, defect, Path(folder), keys)
        return replay(bench, load_bench(bench), [log])


def told_with(
    shape: str,
    change: Callable[[Rig], None],
    *,
    end: float | None = None,
    changed: tuple[tuple[str, str], ...] = (),
) -> Judgement:
    """The same of the sound log after something was changed in what it shows, or in the bench file."""
    rig, length = played(shape)
    change(rig)
    text = (SHAPES / f"{shape}.yaml").read_text(encoding="utf-8")
    for old, new in changed:
        assert old in text
        text = text.replace(old, new)
    with TemporaryDirectory() as here:
        folder = Path(here)
        bench, log = folder / f"{shape}.yaml", folder / "changed.log"
        (folder / "rig.dbc").write_text(rig.dbc(), encoding="ascii")
        bench.write_text(text + rig.shows(), encoding="utf-8")
        log.write_text(rig.candump(end or length), encoding="ascii")
        return replay(bench, load_bench(bench), [log])
