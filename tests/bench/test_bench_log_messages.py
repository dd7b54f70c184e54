"""What a bench file says of CANopen nodes, names of values and end-to-end protection, against the files beside it."""

import re
import shutil
from pathlib import Path

import pytest
from bench_sample import FOLDER, MARK, TEXT, Found, marks
from needed import need_module

from interlock.bench import (
    Bench,
    bench_fingerprint,
    bench_schema,
    described_messages,
    message_files,
    parse_bench,
)
from interlock.bench.cia402 import STATES
from interlock.errors import BenchError, InterlockError
from interlock.trace import load as load_log
from interlock.trace.layout import layout_of

need_module("canopen")

EDS = Path(__file__).parents[1] / "data" / "eds" / "cia402.eds"
DBC = "  dbc: bench.dbc\n"
NODE = "  canopen: {axis: {node: 5, eds: drive.eds}}\n"
LISTED = "    axis_tpdo1: {period: 10 ms, longest_gap: 35 ms}\n  states:"
ENABLED = "drive.enabled: axis_tpdo1.Statusword_1_state is 'operation enabled'"
CHANGES = (
    (DBC, DBC + NODE),
    ("  states:", LISTED),
    ("drive.enabled: SAFE_State.TorqueEnableDrv is 1", ENABLED),
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copy(FOLDER / "bench.dbc", tmp_path / "bench.dbc")
    shutil.copy(EDS, tmp_path / "drive.eds")
    return tmp_path


def text_with(*changes: tuple[str, str]) -> str:
    """The sample bench with a CANopen node, then with these changes."""
    text = TEXT
    for old, new in (*CHANGES, *changes):
        assert old in text, f"the text holds no {old!r}"
        text = text.replace(old, new, 1)
    return text


def load(folder: Path, *changes: tuple[str, str]) -> Bench:
    return parse_bench("bench.yaml", text_with(*changes), folder=folder)


def refused(folder: Path, *changes: tuple[str, str]) -> None:
    """The text with the changes has exactly one mistake, at its mark."""
    *others, (old, new, said) = changes
    text = text_with(*others, (old, new))
    with pytest.raises(BenchError) as caught:
        parse_bench("bench.yaml", text.replace(MARK, ""), folder=folder)
    found = [
        Found(one.line, one.column, f"{one.what}: {one.why}; {one.instead}") for one in caught.value.problems
    ]
    (place,) = marks(text)
    assert found == [Found(*place, said)]


def test_a_bench_with_a_node_loads(folder: Path) -> None:
    bench = load(folder)
    assert bench.shows is not None
    (comparison,) = bench.shows.states["drive.enabled"].comparisons
    assert (str(comparison.name), comparison.label) == ("axis_tpdo1.Statusword_1_state", "operation enabled")
    names = {one.name for one in described_messages(folder / "bench.yaml", bench)}
    assert {"nmt", "sync", "axis_tpdo1", "axis_heartbeat", "axis_emergency"} <= names


MISTAKES = {
    "label": (
        "is 'operation enabled'",
        "is '‸operation enable'",
        "value 'operation enable': the signal has no value of this name; did you mean operation enabled?",
    ),
    "no_labels": (
        "cover.a: SAFE_State.CoverA is 1",
        "cover.a: SAFE_State.CoverA is '‸open'",
        "value 'open': the signal's values have no names; write a number",
    ),
    "no_such_code": (
        "is 'operation enabled'",
        "is ‸9",
        "'is 9': the signal goes from 0 to 7, so this is never so; write a value that it takes",
    ),
    "message": (
        "    axis_tpdo1:",
        "    ‸axis_tpdo9: {period: 1 s, longest_gap: 2 s}\n    axis_tpdo1:",
        "message 'axis_tpdo9': neither DBC nor EDS has a message of this name; "
        "did you mean axis_tpdo3 or axis_tpdo2 or axis_tpdo1?",
    ),
    "no_file": (
        "eds: drive.eds",
        "eds: ‸drives.eds",
        "'drives.eds': the EDS cannot be read (No such file or directory); "
        "name an EDS or DCF file beside this one",
    ),
    "pdo": (
        "eds: drive.eds}",
        "eds: drive.eds, pdos: {tpdo1: {maps: [‸6041]}}}",
        "maps: '6041' is no text; write text such as '6041h'",
    ),
    "identifier": (
        "eds: drive.eds}",
        "eds: drive.eds, pdos: {tpdo1: {id: ‸185}}}",
        "id: '185' is no text; write text such as '185h'",
    ),
    "taken": (
        "axis: {node: 5, eds: drive.eds}",
        "‸axis: {node: 5, eds: drive.eds, pdos: {tpdo1: {id: 120h}}}",
        "axis: its message axis_tpdo1 has the identifier 120h of SAFE_State; keep one of them",
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_said_at_its_word(folder: Path, name: str) -> None:
    refused(folder, MISTAKES[name])


def test_two_nodes_of_one_number_are_refused(folder: Path) -> None:
    two = "{axis: {node: 5, eds: drive.eds}, ‸other: {node: 5, eds: drive.eds}}"
    text = text_with((NODE.strip(), f"canopen: {two}"))
    with pytest.raises(
        BenchError, match="other: its message other_tpdo1 has the identifier 185h of axis_tpdo1"
    ):
        parse_bench("bench.yaml", text.replace(MARK, ""), folder=folder)


@pytest.mark.parametrize(
    "line", ["BO_ 128 Takt: 0 LOG", "BO_ 900 sync: 1 LOG", "BO_ 0 Start: 2 LOG", "BO_ 1413 Sdo: 8 LOG"]
)
def test_what_serves_the_network_only_gives_way_to_the_dbc(folder: Path, line: str) -> None:
    with (folder / "bench.dbc").open("a", encoding="cp1252") as dbc:
        dbc.write(f"\n{line}\n")
    bench = load(folder)
    file = folder / "bench.yaml"
    described = [layout_of(message) for message in described_messages(file, bench)]
    log = folder / "run.log"
    log.write_text("(1700000000.000000) can0 185#3706\n", encoding="ascii")
    trace = load_log([log], folder / "bench.dbc", messages=[], described=described)
    assert set(trace.messages) == {"axis_tpdo1"}


def test_what_one_node_sends_another_may_receive(folder: Path) -> None:
    two = "{axis: {node: 5, eds: drive.eds}, other: {node: 6, eds: drive.eds, pdos: {rpdo1: {id: 185h}}}}"
    bench = load(folder, (NODE.strip(), f"canopen: {two}"))
    names = [one.name for one in described_messages(folder / "bench.yaml", bench)]
    assert "axis_tpdo1" in names
    assert "other_rpdo1" not in names


def test_files_of_the_messages_belong_to_the_bench(folder: Path) -> None:
    bench, file = load(folder), folder / "bench.yaml"
    assert [(path.name, role) for path, role in message_files(file, bench)] == [
        ("bench.dbc", "messages of the log (DBC)"),
        ("drive.eds", "CANopen node axis (EDS)"),
    ]
    before = bench_fingerprint(file, bench)
    with (folder / "drive.eds").open("ab") as eds:
        eds.write(b"; touched\r\n")
    assert bench_fingerprint(file, bench) != before
    (folder / "drive.eds").unlink()
    with pytest.raises(InterlockError, match=r"drive\.eds: it cannot be read"):
        bench_fingerprint(file, bench)
    with pytest.raises(InterlockError, match="the EDS cannot be read"):
        described_messages(file, bench)


def test_a_bench_may_go_without_dbc_but_not_without_any_message(folder: Path) -> None:
    text = text_with((DBC, ""))
    with pytest.raises(BenchError) as caught:
        parse_bench("bench.yaml", text, folder=folder)
    assert {one.why for one in caught.value.problems} == {"neither DBC nor EDS has a message of this name"}
    with pytest.raises(BenchError, match="nothing says which messages the log holds; add 'dbc: bench"):
        parse_bench("bench.yaml", TEXT.replace(DBC, ""), folder=folder)


PROTECTED = "alive: Alive, alive_modulo: 256, e2e: {profile: P05, checksum: Crc, data_id: 1A2Bh}"
WITH_CRC = ' SG_ Crc : 40|16@1+ (1,0) [0|65535] "" LOG\n SG_ Alive :'


@pytest.fixture
def protected(folder: Path) -> Path:
    dbc = folder / "bench.dbc"
    dbc.write_text(dbc.read_text(encoding="cp1252").replace(" SG_ Alive :", WITH_CRC), encoding="cp1252")
    return folder


AS_STATED = ("alive: Alive, alive_modulo: 256", PROTECTED)


def test_a_protected_message_loads(protected: Path) -> None:
    bench = load(protected, AS_STATED)
    assert bench.shows is not None
    stated = bench.shows.messages["SAFE_State"].e2e
    assert stated is not None
    assert (stated.profile, stated.data_id, stated.id_mode) == ("P05", 0x1A2B, "all16Bit")
    assert load(protected, AS_STATED, ("1A2Bh", "6699")) == bench


PROTECTION = {
    "signal": (
        "checksum: Crc",
        "checksum: ‸Crx",
        "signal 'Crx': the message has no signal of this name; did you mean Crc?",
    ),
    "counter": (
        "alive_modulo: 256",
        "alive_modulo: 16",
        "profile P05: its counter goes from 0 to 255, and the message does not state that; "
        "write 'alive: SIGNAL, alive_modulo: 256' at the message",
    ),
    "order": (
        "profile: P05, checksum: Crc",
        "profile: P06, checksum: ‸Crc",
        "signal 'Crc': the profile sends it high byte first, and the DBC does not; "
        "mend the DBC, or name the right profile",
    ),
    "wide_id": (
        "1A2Bh",
        "‸1A2B3h",
        "'1A2B3h': a data id of P05 has 16 bits; write FFFFh or less",
    ),
    "bad_id": (
        "1A2Bh",
        "‸hello",
        "data_id: 'hello' is no data id; write a number, in decimal or such as '1A2Bh'",
    ),
    "mode": (
        "data_id: 1A2Bh",
        "data_id: 1A2Bh, id_mode: ‸lower8Bit",
        "'lower8Bit': profile P05 has no such mode; remove it: nothing may stand here",
    ),
}


@pytest.mark.parametrize("name", [name for name in PROTECTION if name != "counter"])
def test_a_mistake_of_a_protection_is_said_at_its_word(protected: Path, name: str) -> None:
    refused(protected, AS_STATED, PROTECTION[name])


def test_a_protection_needs_the_counter_of_its_profile(protected: Path) -> None:
    old, new, said = PROTECTION["counter"]
    with pytest.raises(BenchError) as caught:
        load(protected, AS_STATED, (old, new))
    (problem,) = caught.value.problems
    assert f"{problem.what}: {problem.why}; {problem.instead}" == said


def test_a_list_of_data_ids_belongs_to_profiles_that_have_one(protected: Path) -> None:
    with pytest.raises(BenchError) as caught:
        load(
            protected, AS_STATED, ("profile: P05", "profile: P02"), ("alive_modulo: 256", "alive_modulo: 16")
        )
    whys = {one.why for one in caught.value.problems}
    assert "it needs one data id for each of the 16 values of the counter" in whys
    assert "profile P02 has none" in whys
    assert "it has 16 bits, and the profile needs 8" in whys


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("eds: drive.eds}", "eds: drive.eds, pdos: {tpdo1: {id: 1A5h, maps: [6061h, 6041h]}}}"),
        ("1A2Bh", "1A2Ch"),
        ("operation enabled", "quick stop active"),
    ],
    ids=["mapping", "data id", "state"],
)
def test_a_change_of_nodes_and_protection_changes_the_fingerprint(
    protected: Path, old: str, new: str
) -> None:
    file, before = (
        protected / "bench.yaml",
        bench_fingerprint(protected / "bench.yaml", load(protected, AS_STATED)),
    )
    assert bench_fingerprint(file, load(protected, AS_STATED, (old, new))) != before


def test_the_schema_tells_an_editor_of_nodes_and_protection() -> None:
    definitions = bench_schema()["$defs"]
    assert set(definitions["CanopenNode"]["required"]) == {"node", "eds"}
    assert "P05" in definitions["Protection"]["properties"]["profile"]["enum"]


def test_the_page_on_benches_shows_what_loads(protected: Path) -> None:
    page = (FOLDER.parents[2] / "interlock" / "bench" / "DESCRIBE.md").read_text(encoding="utf-8")
    nodes, message = re.findall(r"<!-- log: \w+ -->\n```yaml\n(.*?)```", page, re.DOTALL)
    node = "".join(f"  {line}\n" for line in nodes.splitlines())
    stated = re.search(r"e2e: .*", message)
    assert stated is not None
    bench = load(
        protected,
        (NODE, node),
        ("Statusword_1_state is 'operation enabled'", "Velocity_Actual_Value_1 > 0 1/min"),
        ("alive: Alive, alive_modulo: 256", f"alive: Alive, alive_modulo: 256, {stated[0]}"),
    )
    tpdo4 = next(
        one for one in described_messages(protected / "bench.yaml", bench) if one.name == "axis_tpdo4"
    )
    assert tpdo4.frame_id == 0x485
    for state in STATES.values():
        assert f"`'{state}'`" in page
