"""Object dictionaries out of EDS and DCF files, and the messages that come of them.

Files: `ros-industrial/ros2_canopen` (Apache-2.0, see tests/data/README.md). Oracle: the reading of process data
mappings by the general-purpose library `canopen`, of the same files.
"""

import math
from pathlib import Path

import pytest
from needed import need_module

from interlock.bench.canopen import CanopenNode, ObjectName, parse_identifier, parse_object
from interlock.bench.canopen_messages import node_messages
from interlock.bench.cia402 import MODES, STATE_OF_BITS, STATES, axis_object
from interlock.bench.described import DescribedMessage
from interlock.bench.eds import read_eds
from interlock.bench.refusal import Refusal

canopen = need_module("canopen")

EDS = Path(__file__).parents[1] / "data" / "eds"
DRIVE, COMPACT = EDS / "cia402.eds", EDS / "compact.eds"


def node(**more: object) -> CanopenNode:
    return CanopenNode.model_validate({"node": 5, "eds": "drive.eds", **more})


def messages(path: Path = DRIVE, **more: object) -> dict[str, DescribedMessage]:
    stated = node(**more)
    return {one.name: one for one in node_messages("axis", stated, read_eds(path, stated.node))}


def changed(tmp_path: Path, *changes: tuple[str, str], source: Path = DRIVE) -> Path:
    text = source.read_bytes().decode("cp1252").replace("\r\n", "\n")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "drive.eds"
    path.write_bytes(text.encode("cp1252"))
    return path


def refused(path: Path, **more: object) -> Refusal:
    with pytest.raises(Refusal) as caught:
        messages(path, **more)
    return caught.value


@pytest.mark.parametrize("number", [1, 5, 127])
def test_process_data_are_those_that_the_library_reads(number: int) -> None:
    network = canopen.Network()
    peer = network.add_node(number, str(DRIVE))
    mine = messages(node=number)
    for kind, group in (("tpdo", peer.tpdo), ("rpdo", peer.rpdo)):
        group.read(from_od=True)
        for index in group:
            theirs, name = group[index], f"axis_{kind}{index}"
            assert (name in mine) == theirs.enabled
            if not theirs.enabled:
                continue
            assert mine[name].frame_id == theirs.cob_id
            assert 8 * mine[name].length == sum(one.length for one in theirs.map)
            placed = [(one.start, one.length) for one in mine[name].signals if not one.codes]
            assert placed == [(one.offset, one.length) for one in theirs.map]


def test_messages_of_a_node_have_the_predefined_identifiers() -> None:
    # CiA 301, pre-defined connection set: 80h, 580h, 600h and 700h, each plus the number of the node
    mine = messages()
    got = {name: one.frame_id for name, one in mine.items() if "pdo" not in name}
    assert got == {
        "axis_emergency": 0x85,
        "axis_sdo_answer": 0x585,
        "axis_sdo_request": 0x605,
        "axis_heartbeat": 0x705,
    }


def test_a_compact_mapping_is_read_from_its_section_of_values() -> None:
    # compact.eds: [1A00Value] 1=0x40010020, object 4001h of 32 bits
    mine = messages(COMPACT)
    (signal,) = mine["axis_tpdo1"].signals
    assert (mine["axis_tpdo1"].frame_id, signal.name, signal.length) == (
        0x185,
        "UNSIGNED32_sent_from_slave",
        32,
    )


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("ObjectType=0x08\nDataType=0x0007", "ObjectType=0x08\nDataType=", "is no sound EDS (ValueError"),
        (
            "CompactSubObj=1\n\n[1A00Value]",
            "CompactSubObj=300\n\n[1A00Value]",
            "an object has no 300 entries",
        ),
        (
            "NrOfEntries=1\n1=0x40010020",
            "NrOfEntries=99999999999\n1=0x40010020",
            "has no 99999999999 entries",
        ),
        ("1=0x40010020", "1=$NODEID", "'$NODEID' is no number"),
    ],
)
def test_a_compact_mapping_that_is_wrong_is_said(tmp_path: Path, old: str, new: str, why: str) -> None:
    text = COMPACT.read_bytes().decode("cp1252").replace("\r\n", "\n")
    head, part = text[: text.index("[1A00]")], text[text.index("[1A00]") :]
    assert old in part
    path = tmp_path / "drive.eds"
    path.write_text(head + part.replace(old, new, 1), encoding="cp1252")
    said = refused(path).why
    assert why in said
    assert said.startswith("drive.eds")


def test_the_bench_file_sets_up_what_the_eds_leaves_off() -> None:
    mine = messages(pdos={"tpdo4": {"id": "485h"}})
    names = [signal.name for signal in mine["axis_tpdo4"].signals]
    assert names == ["Statusword_1", "Statusword_1_state", "Velocity_Actual_Value_1"]


def test_the_bench_file_states_another_mapping_and_what_a_count_is_worth() -> None:
    mine = messages(
        pdos={"tpdo1": {"id": "1A5h", "maps": ["6061h", "606Ch"]}},
        counts={"Velocity_Actual_Value_1": "0.1 1/min"},
    )
    mode, speed = mine["axis_tpdo1"].signals
    assert mine["axis_tpdo1"].frame_id == 0x1A5
    assert (mode.start, mode.length, mode.choices) == (0, 8, MODES)
    assert (speed.start, speed.length, speed.is_signed) == (8, 32, True)
    assert (speed.scale, speed.unit) == (0.1, "1/min")


def test_the_value_of_a_dcf_goes_before_the_default(tmp_path: Path) -> None:
    path = changed(
        tmp_path,
        ("DefaultValue=$NODEID+0x40000180\n", "DefaultValue=$NODEID+0x40000180\nParameterValue=0x3A1\n"),
    )
    assert messages(path)["axis_tpdo1"].frame_id == 0x3A1


def test_without_a_value_the_predefined_identifier_holds(tmp_path: Path) -> None:
    path = changed(tmp_path, ("DefaultValue=$NODEID+0x40000180\n", ""))
    assert messages(path)["axis_tpdo1"].frame_id == 0x185


def test_an_object_of_29_bits_is_told_by_its_flag(tmp_path: Path) -> None:
    # CiA 301, description of the PDO COB-ID: bit 29 set: frame with 29-bit identifier
    path = changed(tmp_path, ("DefaultValue=$NODEID+0x40000180\n", "DefaultValue=0x20012345\n"))
    one = messages(path)["axis_tpdo1"]
    assert (one.frame_id, one.is_extended_frame) == (0x12345, True)


WRONG = {
    "no_number": (
        [("DefaultValue=$NODEID+0x40000180", "DefaultValue=hello")],
        "drive.eds:739: the value 'hello' of 'Transmit PDO Communication Parameter 1 COB-ID' is no number",
    ),
    "unknown_object": (
        [("DefaultValue=0x60410010", "DefaultValue=0x7F000010")],
        "tpdo1 of drive.eds maps the object 7F00h, which it does not describe",
    ),
    "other_size": (
        [("DefaultValue=0x60410010", "DefaultValue=0x60410020")],
        "tpdo1 of drive.eds maps 32 bits of 6041h, which has 16",
    ),
    "no_count": (
        [("[1A00sub0]\nParameterName=", "[1A00sub9]\nParameterName=")],
        "drive.eds does not say how many objects tpdo1 maps (1A00h)",
    ),
    "lost_entry": (
        [("DefaultValue=0x02\nPDOMapping=0\n\n[1A01sub1]", "DefaultValue=0x04\nPDOMapping=0\n\n[1A01sub1]")],
        "drive.eds gives no value for 1A01h sub 4, of 4 that tpdo2 maps",
    ),
    "other_node": (
        [("[DeviceInfo]", "[DeviceComissioning]\nNodeID=9\n\n[DeviceInfo]")],
        "drive.eds is made out for node 9, not 5",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_with_a_file_is_said(tmp_path: Path, name: str) -> None:
    changes, why = WRONG[name]
    assert refused(changed(tmp_path, *changes)).why == why


def test_a_file_that_is_no_eds_is_refused_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "drive.eds"
    for content in (
        b"\x81",
        b"no section\n",
        b"[1000]\n",
        b"[1000]\nParameterName=A\nDataType=x\nAccessType=ro\n",
    ):
        path.write_bytes(content)
        assert "\n" not in str(refused(path))
    path.unlink()
    assert refused(path).why == "the EDS cannot be read (No such file or directory)"


def test_an_object_mapped_twice_and_a_strange_count_are_refused() -> None:
    twice = {"tpdo1": {"maps": ["6041h", "6041h"]}}
    assert refused(DRIVE, pdos=twice).why == "'Statusword_1' would stand twice in one message"
    said = refused(DRIVE, counts={"Statuswort_1": "1 A"})
    assert said.why == "counts: no message of this node has a signal 'Statuswort_1'"
    assert said.instead == "did you mean Statusword_1?"


def test_an_object_above_the_fourth_needs_its_identifier() -> None:
    assert "gives tpdo5 an identifier" in refused(DRIVE, pdos={"tpdo5": {"maps": ["6041h"]}}).why
    assert refused(DRIVE, pdos={"tpdo1": {"maps": ["7777h"]}}).why == "tpdo1: cia402.eds has no object 7777h"


@pytest.mark.parametrize(
    ("text", "index", "sub"),
    [("6041h", 0x6041, 0), ("1a00h sub 3", 0x1A00, 3), (" 3000h  sub 255 ", 0x3000, 255)],
)
def test_objects_are_written_as_in_the_standard(text: str, index: int, sub: int) -> None:
    assert parse_object(text) == ObjectName(index, sub)
    assert parse_object(str(ObjectName(index, sub))) == ObjectName(index, sub)


@pytest.mark.parametrize("text", ["6041", "0x6041", "604h", "6041h sub", "6041h sub 256", "60411h", ""])
def test_what_is_no_object_is_refused(text: str) -> None:
    with pytest.raises(Refusal, match=r"is no object of a CANopen node; write it such as '6041h'"):
        parse_object(text)


@pytest.mark.parametrize("text", ["185", "0h", "800h", "FFFFh", "h", "0x185"])
def test_what_is_no_identifier_is_refused(text: str) -> None:
    with pytest.raises(Refusal, match="is no identifier of 11 bits"):
        parse_identifier(text)
    assert parse_identifier("7FFh") == 0x7FF


def test_states_of_the_status_word_are_those_of_the_library() -> None:
    """All 128 values of the bits that count, against the masks of `canopen.profiles.p402` (CiA 402)."""
    from canopen.profiles.p402 import State402

    for bits, state in enumerate(STATE_OF_BITS):
        theirs = [name for name, (mask, value) in State402.SW_MASK.items() if bits & mask == value]
        mine = [] if math.isnan(state) else [STATES[int(state)].upper()]
        assert mine == theirs


def test_modes_are_those_of_the_library() -> None:
    from canopen.profiles.p402 import OperationMode

    theirs = {value for name, value in vars(OperationMode).items() if isinstance(value, int) and value >= 0}
    assert set(MODES) >= theirs


def test_objects_of_further_axes_mean_the_same() -> None:
    # CiA 402: objects of axis n lie n times 800h higher; eight axes
    assert [axis_object(one) for one in (0x6041, 0x6841, 0x9841, 0xA041)] == [0x6041, 0x6041, 0x6041, 0xA041]
    assert axis_object(0x3041) == 0x3041
