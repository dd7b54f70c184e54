"""DBC files: what is taken from them, and errors that name file, line and reason."""

from pathlib import Path

import cantools
import pytest
from trace_kit import DBC, LAYOUTS

from interlock.errors import LogError
from interlock.trace.layout import load_dbc

HEAD = 'VERSION ""\nBU_: A\n'


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "a.dbc"
    path.write_bytes(text.encode("cp1252"))
    return path


def test_same_as_cantools_for_the_sample_bench() -> None:
    reference = {message.frame_id: message for message in cantools.database.load_file(DBC).messages}
    assert set(LAYOUTS) == set(reference)
    for key, layout in LAYOUTS.items():
        assert (layout.name, layout.length) == (reference[key].name, reference[key].length)
        assert {signal.name for signal in layout.signals} == {s.name for s in reference[key].signals}


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ("[0|0]", (None, None)),
        ("[0|1]", (0.0, 1.0)),
        ("[-5|0]", (-5.0, 0.0)),
        ("[-8000|8000]", (-8000.0, 8000.0)),
    ],
)
def test_range_of_zero_to_zero_is_no_range(
    tmp_path: Path, stated: str, expected: tuple[float | None, float | None]
) -> None:
    text = HEAD + f'BO_ 5 M: 8 A\n SG_ S : 0|8@1+ (1,0) {stated} "V" A\n'
    (signal,) = load_dbc(write(tmp_path, text))[5].signals
    assert (signal.minimum, signal.maximum) == expected
    assert signal.unit == "V"


def test_extended_and_standard_identifiers_differ(tmp_path: Path) -> None:
    text = HEAD + "BO_ 5 M: 8 A\n\nBO_ 2147483653 N: 8 A\n"
    layouts = load_dbc(write(tmp_path, text))
    assert {key: layout.name for key, layout in layouts.items()} == {5: "M", 5 | 1 << 31: "N"}


@pytest.mark.parametrize(
    ("text", "line", "reason"),
    [
        (HEAD + "BO_ 5 M: 8 A\n SG_ S : 0|8@1+ (1,0 [0|1] A\n", 4, "Invalid syntax"),
        (HEAD + 'BO_ 5 M: 1 A\n SG_ Wide : 0|9@1+ (1,0) [0|1] "" A\n', 4, "does not fit"),
        (
            HEAD + 'BO_ 5 M: 2 A\n SG_ Aa : 0|9@1+ (1,0) [0|1] "" A\n SG_ Bb : 8|8@1+ (1,0) [0|1] "" A\n',
            3,
            "overlapping",
        ),
        (
            HEAD + 'BO_ 5 M: 8 A\n SG_ S : 0|8@1+ (1,0) [0|1] "" A\nVAL_ 5 T 1 "x" ;\n',
            5,
            "unused VAL_ entries",
        ),
        (
            HEAD
            + 'BO_ 5 M: 8 A\n SG_ Aa : 0|8@1+ (1,0) [0|1] "" A\nBO_ 9 N: 1 A\n SG_ Aa : 0|9@1+ (1,0) [0|1] "" A\n',
            6,
            "does not fit in message N",
        ),
        (HEAD + "BO_ 5000 M: 8 A\n", 3, "more than 11 bits"),
    ],
)
def test_broken_files_are_told_with_file_line_and_reason(
    tmp_path: Path, text: str, line: int, reason: str
) -> None:
    path = write(tmp_path, text)
    with pytest.raises(LogError) as caught:
        load_dbc(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert reason in message
    assert f":{line}" in message or f":{line + 1}" in message


@pytest.mark.parametrize("content", [b"\x81\x8d junk", b"\0\1\2\3", b"BO_ x", b"not a DBC at all"])
def test_junk_is_an_error_not_a_traceback(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.dbc"
    path.write_bytes(content)
    with pytest.raises(LogError, match=r"a\.dbc"):
        load_dbc(path)


def test_missing_file_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="cannot be opened"):
        load_dbc(tmp_path / "none.dbc")


def test_one_identifier_for_two_messages_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="0x5 belongs to two messages"):
        load_dbc(write(tmp_path, HEAD + "BO_ 5 M: 8 A\n\nBO_ 5 N: 8 A\n"))


@pytest.mark.parametrize("cut", range(20, 1200, 97))
def test_cut_files_give_an_error_or_fewer_messages(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "a.dbc"
    path.write_bytes(DBC.read_bytes()[:cut])
    try:
        layouts = load_dbc(path)
    except LogError:
        return
    assert len(layouts) <= len(LAYOUTS)


def test_a_file_in_utf_8_keeps_its_units(tmp_path: Path) -> None:
    text = HEAD + 'BO_ 5 M: 8 A\n SG_ S : 0|8@1+ (1,0) [0|1] "°C" A\n'
    for number, encoding in enumerate(("cp1252", "utf-8", "utf-8-sig")):
        path = tmp_path / f"{number}.dbc"
        path.write_bytes(text.encode(encoding))
        (signal,) = load_dbc(path)[5].signals
        assert signal.unit == "°C"


def test_names_of_values_stand_for_scaled_values(tmp_path: Path) -> None:
    text = HEAD + 'BO_ 5 M: 8 A\n SG_ S : 0|8@1+ (0.5,-3) [0|0] "" A\nVAL_ 5 S 0 "low" 8 "high" ;\n'
    (signal,) = load_dbc(write(tmp_path, text))[5].signals
    assert signal.labels == {-3.0: "low", 1.0: "high"}
