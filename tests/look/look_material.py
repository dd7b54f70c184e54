"""Small logs and a small DBC for the tests of this room; invented."""

from pathlib import Path

DATA = Path(__file__).resolve().parents[1] / "data"
DBC = DATA / "bench.dbc"
SAMPLE = Path(__file__).resolve().parents[1] / "benches" / "sample" / "bench.yaml"


def candump(path: Path, frames: list[tuple[int, str]], *, extra: dict[int, str] | None = None) -> Path:
    """A candump log: (microseconds, `ID#DATA`) a frame; `extra` puts a line of text before the frame of that index."""
    lines = []
    for index, (stamp, frame) in enumerate(frames):
        if extra and index in extra:
            lines.append(extra[index])
        lines.append(f"({1_790_000_000 + stamp // 1_000_000}.{stamp % 1_000_000:06d}) can0 {frame}")
    path.write_text("".join(f"{line}\n" for line in lines))
    return path


def counting(
    count: int, *, ident: str = "120", modulo: int = 256, period_us: int = 10_000
) -> list[tuple[int, str]]:
    """Frames of the sample bench's SAFE_State with both covers open and a counter in the last byte."""
    return [(at * period_us, f"{ident}#03000000000000{at % modulo:02X}") for at in range(count)]
