"""One run in every format: the same verdict, the same findings, the same bounds to the format's resolution.

The frames are those of the sample logs, which an outside program made; python-can reads them and writes some formats.
"""

import functools
from collections.abc import Callable
from pathlib import Path

import pytest
from needed import need_extra
from replay_converted import (
    TEXTS,
    Frame,
    bench_of_bits,
    bits_as_capture,
    bits_as_table,
    bits_as_vcd,
    converted,
    frames_of,
)
from replay_tape import BENCH, BENCH_FILE

from interlock.interval import Interval
from interlock.replay import Finding, Judgement, replay
from interlock.verdict import Verdict

FILES = {"sound": "sound.blf", "slow": "slow.asc", "refs_kept": "refs_kept.log"}
STEP_NS = {**{name: row[2] for name, row in TEXTS.items()}, "blf": 1000, "csv": 1000, "mf4": 1000}
BINARY = ["blf", "csv", "mf4"]
Read = Callable[[str], list[Frame]]
Said = Callable[[str], Judgement]


@pytest.fixture(scope="module")
def frames(samples: Path) -> Read:
    """The frames of a sample log, read once."""
    return functools.cache(lambda name: frames_of(samples / FILES[name]))


@pytest.fixture(scope="module")
def reference(frames: Read, tmp_path_factory: pytest.TempPathFactory) -> Said:
    """What is said of the same frames as candump writes them."""
    folder = tmp_path_factory.mktemp("reference")

    @functools.cache
    def judged(name: str) -> Judgement:
        return replay(BENCH_FILE, BENCH, [converted(frames(name), "candump", folder)])

    return judged


def key(one: Finding) -> tuple[str, str, str, str]:
    return one.function, one.subject, one.effect, str(one.verdict)


def near(one: Interval | None, other: Interval | None, within_ns: int) -> bool:
    if one is None or other is None or one.hi is None or other.hi is None:
        return one == other or (one is not None and other is not None and abs(one.lo - other.lo) <= within_ns)
    return abs(one.lo - other.lo) <= within_ns and abs(one.hi - other.hi) <= within_ns


def same(said: Judgement, other: Judgement, within_ns: int) -> list[str]:
    """Where two judgements differ; each bound may by the rounding of its stamps and the widths of both."""
    found = [f"{a} and {b}" for a, b in zip(said.findings, other.findings, strict=False) if key(a) != key(b)]
    found += [
        f"{key(a)}: {a.demand}, {a.latency} and {b.demand}, {b.latency}"
        for a, b in zip(said.findings, other.findings, strict=False)
        if not near(a.demand, b.demand, 4 * within_ns) or not near(a.latency, b.latency, 8 * within_ns)
    ]
    return found if len(said.findings) == len(other.findings) else ["not as many findings", *found]


@pytest.mark.parametrize("form", [*(name for name in TEXTS if name != "candump"), *BINARY])
def test_the_sound_one_in_every_format(form: str, frames: Read, reference: Said, tmp_path: Path) -> None:
    if form == "mf4":
        need_extra("asammdf")
    said = replay(BENCH_FILE, BENCH, [converted(frames("sound"), form, tmp_path)])
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    assert same(said, reference("sound"), STEP_NS[form]) == []
    assert sum(source.rejected for source in said.observation.trace.sources) == 0


@pytest.mark.parametrize(
    ("name", "form"), [("slow", "asc, decimal"), ("slow", "blf"), ("refs_kept", "trc 1.1")]
)
def test_those_that_fail_do_so_in_other_formats(
    name: str, form: str, frames: Read, reference: Said, tmp_path: Path
) -> None:
    said = replay(BENCH_FILE, BENCH, [converted(frames(name), form, tmp_path)])
    assert said.verdict is Verdict.FAIL
    assert same(said, reference(name), STEP_NS[form]) == []


@pytest.mark.parametrize("form", ["candump", "trc 2.1", "blf"])
def test_a_packed_file_says_the_same(form: str, frames: Read, reference: Said, tmp_path: Path) -> None:
    said = replay(BENCH_FILE, BENCH, [converted(frames("sound"), form, tmp_path, packed=True)])
    assert same(said, reference("sound"), STEP_NS[form]) == []
    assert said.observation.trace.sources[0].path.endswith(".gz")


def test_decoded_bits_in_a_table_say_the_same(frames: Read, reference: Said, tmp_path: Path) -> None:
    file, bench = bench_of_bits("table", tmp_path)
    log = converted(frames("sound"), "candump", tmp_path)
    said = replay(file, bench, [log, bits_as_table(frames("sound"), tmp_path / "bits.csv")])
    assert same(said, reference("sound"), 1000) == []


@pytest.mark.parametrize(
    ("kind", "step_ns", "name"), [("vcd", 1000, "slow"), ("sr", 50_000, "sound"), ("sr", 50_000, "refs_kept")]
)
def test_bits_that_are_known_between_the_frames_say_the_same_and_more_narrowly(
    name: str, kind: str, step_ns: int, frames: Read, reference: Said, tmp_path: Path
) -> None:
    """A capture says that nothing changed from one change to the next; the frames leave that open."""
    write = {"vcd": bits_as_vcd, "sr": bits_as_capture}[kind]
    file, bench = bench_of_bits(kind, tmp_path)
    log = converted(frames(name), "candump", tmp_path)
    said, other = replay(file, bench, [log, write(frames(name), tmp_path / f"bits.{kind}")]), reference(name)
    assert said.verdict is other.verdict
    assert [key(one)[:3] for one in said.findings] == [key(one)[:3] for one in other.findings]
    slack = Interval(-4 * step_ns, 4 * step_ns)
    for one, wide in zip(said.findings, other.findings, strict=True):
        if one.latency is not None and wide.latency is not None and wide.latency.hi is not None:
            around = wide.latency.shift(slack)
            assert around.lo <= one.latency.lo
            assert (one.latency.hi or 0) <= (around.hi or 0)
