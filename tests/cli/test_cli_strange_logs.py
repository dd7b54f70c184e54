"""Files that common readers take in silence: refused in one line, or read up to the damage and listed; never a pass.

Each is made here from the sample log by the means that a user has: python-can's writers, an editor, a full disk.
"""

import gzip
from dataclasses import dataclass
from pathlib import Path

import can
import pytest

FRAMES = 300


@dataclass(frozen=True)
class Given:
    """The beginning of the sample log, as text and as python-can's messages."""

    lines: list[str]
    messages: list[can.Message]


@pytest.fixture(scope="module")
def given(root: Path) -> Given:
    path = root / "tests" / "data" / "short.log"
    with can.LogReader(path) as reader:
        return Given(path.read_text(encoding="ascii").splitlines()[:FRAMES], list(reader)[:FRAMES])


def stamped(lines: list[str]) -> list[tuple[float, str]]:
    pairs = [line[1:].split(")", 1) for line in lines]
    return [(float(stamp), rest) for stamp, rest in pairs]


def sqlite(folder: Path, given: Given) -> Path:
    with can.SqliteWriter(folder / "run.db") as writer:
        for message in given.messages:
            writer(message)
    return folder / "run.db"


def sqlite_as_log(folder: Path, given: Given) -> Path:
    return sqlite(folder, given).rename(folder / "run.log")


def gvret(folder: Path, given: Given) -> Path:
    """As the adapter's own tool saves it: columns by its file format's documentation (from memory)."""
    start, rows = given.messages[0].timestamp, ["Time Stamp,ID,Extended,Dir,Bus,LEN,D1,D2,D3,D4,D5,D6,D7,D8"]
    for one in given.messages:
        data = ",".join(f"{byte:02X}" for byte in one.data)
        stamp = int((one.timestamp - start) * 1e6)
        rows.append(f"{stamp},{one.arbitration_id:08X},false,Rx,0,{one.dlc},{data},")
    return written(folder / "run.csv", rows)


def written(path: Path, rows: list[str]) -> Path:
    path.write_text("\n".join(rows) + "\n", encoding="ascii")
    return path


def commas(folder: Path, given: Given) -> Path:
    return written(folder / "run.log", [line.replace(".", ",", 1) for line in given.lines])


def distances(folder: Path, given: Given) -> Path:
    """Each stamp counts from the frame before: common readers take it for an absolute one."""
    pairs = stamped(given.lines)
    before = [pairs[0][0], *(stamp for stamp, _ in pairs)]
    return written(
        folder / "run.log",
        [f"({stamp - last:.6f}){rest}" for (stamp, rest), last in zip(pairs, before, strict=False)],
    )


def torn(folder: Path, given: Given) -> Path:
    path = folder / "run.log"
    path.write_text("\n".join(given.lines)[:-3], encoding="ascii")
    return path


def torn_gzip(folder: Path, given: Given) -> Path:
    packed = gzip.compress("\n".join(given.lines).encode("ascii"))
    path = folder / "run.log.gz"
    path.write_bytes(packed[: 3 * len(packed) // 4])
    return path


def torn_blf(folder: Path, given: Given) -> Path:
    path = folder / "run.blf"
    with can.BLFWriter(path) as writer:
        for message in given.messages:
            writer(message)
    path.write_bytes(path.read_bytes()[:-400])
    return path


def swapped(folder: Path, given: Given) -> Path:
    """A block of frames that a buffered logger wrote too late."""
    return written(
        folder / "run.log",
        [*given.lines[:100], *given.lines[150:200], *given.lines[100:150], *given.lines[200:]],
    )


def merged_cells(folder: Path, given: Given) -> Path:
    """An identifier that a table program took for a number in powers of ten."""
    return written(folder / "run.log", [line.replace(" 340#", " 3.4E+02#") for line in given.lines])


REFUSED = {sqlite: "SQLite", sqlite_as_log: "SQLite", gvret: "GVRET", commas: "decimal comma"}
LISTED = {
    distances: "the order of events is not certain",
    torn: "the file ends inside this line",
    torn_gzip: "the packed file ends before its content does",
    torn_blf: "",
    swapped: "the order of events is not certain",
    merged_cells: "",
}


@pytest.mark.parametrize("make", REFUSED, ids=lambda make: make.__name__)
def test_what_nobody_can_read_for_sure_is_refused(interlock, root, tmp_path, given, make):
    log = make(tmp_path, given)
    bench = root / "tests" / "benches" / "sample" / "bench.yaml"
    for words in (("look", log), ("replay", bench, log)):
        said = interlock(*words)
        assert said.code == 2
        assert REFUSED[make] in said.err
        assert said.err.count("\n") == 1
        assert said.out == ""


@pytest.mark.parametrize("make", LISTED, ids=lambda make: make.__name__)
def test_what_can_be_read_in_part_is_listed_and_passes_nowhere(interlock, root, tmp_path, given, make):
    log = make(tmp_path, given)
    looked = interlock("look", log, "--dbc", root / "tests" / "data" / "bench.dbc")
    assert looked.code == 3
    assert "blinds" in looked.out
    assert LISTED[make] in " ".join(looked.out.split())
    judged = interlock("replay", root / "tests" / "benches" / "sample" / "bench.yaml", log)
    assert judged.code in (1, 3)
    assert "PASS" not in judged.out.split("\n", 1)[0]


def test_tabs_between_the_fields_mean_the_same(interlock, tmp_path, given):
    plain = written(tmp_path / "plain.log", given.lines)
    tabbed = written(tmp_path / "tabbed.log", [line.replace(" ", "\t") for line in given.lines])
    said = [interlock("look", log).out.replace(log.name, "") for log in (plain, tabbed)]
    assert said[0] == said[1]
