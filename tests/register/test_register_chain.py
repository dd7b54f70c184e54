"""The chain: every change of a byte shows, every line out of its place is named, and what cannot show is said.

Hashes are held against `hashlib` on the bytes as the published schema describes them, not against this package.
"""

import hashlib
import json
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from register_lines import made, rehashed

from interlock.errors import RegisterError
from interlock.register import read_register
from interlock.register.chain import line_of, read_chain


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("chain") / "r.jsonl"
    made(path)
    return path.read_bytes()


def lines_of(data: bytes) -> list[bytes]:
    return data.split(b"\n")[:-1]


def joined(lines: list[bytes]) -> bytes:
    return b"".join(line + b"\n" for line in lines)


def refused(data: bytes) -> str:
    with pytest.raises(RegisterError) as error:
        read_register("r.jsonl", data)
    assert "\n" not in str(error.value)  # one clear error
    return str(error.value)


# should pass


def test_a_whole_register_reads_in_order(whole):
    register = read_register("r.jsonl", whole)
    assert [entry.entry for entry in register.entries] == [1, 2, 3, 4, 5, 6]
    assert [entry.content.kind for entry in register.entries] == [
        "proof_test",
        "operations",
        "replaced",
        "changed",
        "withdrawn",
        "operations",
    ]
    assert register.entries[0].by.name == "Ä. Prüfer"
    assert register.entries[1].note == "line\nbreak  kept"


def test_each_line_holds_the_hash_of_itself_and_of_the_one_before(whole):
    """By hand: SHA-256 of the bytes before ',"sha256"', as FIPS 180-4 (hashlib) gives it."""
    before = None
    for line in lines_of(whole):
        text, said = line.rsplit(b',"sha256":"', 1)
        digest = hashlib.sha256(text).hexdigest()
        assert said == f'{digest}"}}'.encode()
        assert json.loads(line).get("previous") == before
        before = digest


def test_the_last_hash_is_the_one_to_note(whole):
    register = read_register("r.jsonl", whole)
    assert register.sha256 == json.loads(lines_of(whole)[-1])["sha256"]
    assert register.number_of(register.sha256) == 6
    assert register.number_of(register.head.sha256) == 0


def test_withdrawn_lines_stay_but_do_not_count(whole):
    register = read_register("r.jsonl", whole)
    assert [entry.entry for entry in register.counting("press_2")] == [1, 4, 6]
    assert [entry.entry for entry in register.counting("press_3")] == [3]
    assert register.withdrawn[2].entry == 5


@given(
    st.dictionaries(
        st.text(), st.none() | st.integers() | st.text(st.characters(exclude_categories=["Cs"])), min_size=1
    )
)
def test_any_body_reads_back_from_its_line(body):
    try:
        text, digest = line_of(body)
    except UnicodeEncodeError:
        return  # half a surrogate pair is no text
    assert "\n" not in text
    if "sha256" not in body:
        assert json.loads(text) == {**body, "sha256": digest}


# should fail


@given(st.data())
def test_every_changed_byte_is_refused(whole, data):
    at = data.draw(st.integers(0, len(whole) - 1))
    new = data.draw(st.integers(0, 255).filter(lambda byte: byte != whole[at]))
    refused(whole[:at] + bytes([new]) + whole[at + 1 :])


@given(st.data())
def test_every_lost_or_added_byte_is_refused(whole, data):
    at = data.draw(st.integers(0, len(whole) - 1))
    refused(whole[:at] + whole[at + 1 :])
    refused(whole[:at] + bytes([data.draw(st.integers(0, 255))]) + whole[at:])


def test_a_changed_line_is_named(whole):
    for number, line in enumerate(lines_of(whole)[1:], 2):
        lines = lines_of(whole)
        lines[number - 1] = line.replace(b"20", b"21", 1)
        said = refused(joined(lines))
        assert said.startswith(f"r.jsonl:{number}: changed: the SHA-256 of its text is ")
        assert said.endswith("restore the file from a copy")


@given(st.data())
def test_a_cut_within_a_line_is_refused_and_named(whole, data):
    ends = [at for at, byte in enumerate(whole) if byte == 10]
    at = data.draw(st.integers(1, len(whole) - 1).filter(lambda at: at - 1 not in ends))
    head = whole.index(b'"interlock register"') + 20
    said = refused(whole[:at])
    number = whole[:at].count(b"\n") + 1
    assert said.startswith(f"r.jsonl:{number}: cut: " if at >= head else "r.jsonl:1: no register begins")


def test_what_no_chain_shows_is_shown_by_a_hash_that_was_noted(whole):
    """Lines cut off at the end leave a whole chain: only the noted hash tells."""
    lines = lines_of(whole)
    noted = read_register("r.jsonl", whole).sha256
    for keep in range(1, len(lines)):
        shorter = read_register("r.jsonl", joined(lines[:keep]))
        assert shorter.number_of(noted) is None
        assert shorter.number_of(json.loads(lines[keep - 1])["sha256"]) == keep - 1


def test_any_two_lines_that_changed_places_are_refused(whole):
    for first, second in combinations(range(1, 7), 2):
        lines = lines_of(whole)
        lines[first], lines[second] = lines[second], lines[first]
        said = refused(joined(lines))
        assert said.startswith(
            f"r.jsonl:{first + 1}: changed places: entry {second} stands here, entry {first} "
        )
        assert f"on line {second + 1}" in said


@pytest.mark.parametrize(
    ("first", "last", "says"),
    [
        (1, 1, "r.jsonl:2: missing: entry 1 should stand before entry 2"),
        (3, 3, "r.jsonl:4: missing: entry 3 should stand before entry 4"),
        (2, 4, "r.jsonl:3: missing: entries 2 to 4 should stand before entry 5"),
    ],
)
def test_lines_taken_out_are_named(whole, first, last, says):
    lines = lines_of(whole)
    assert refused(joined(lines[:first] + lines[last + 1 :])).startswith(says)


def test_a_doubled_line_is_named(whole):
    lines = lines_of(whole)
    said = refused(joined([*lines[:4], lines[3], *lines[4:]]))
    assert said.startswith("r.jsonl:5: doubled: entry 3 stands here, where entry 4 should")


def test_a_line_written_anew_with_a_right_hash_breaks_the_next_one(whole):
    for number in range(1, 6):
        lines = lines_of(whole)
        lines[number] = rehashed(lines[number], note="forged")
        said = refused(joined(lines))
        assert said.startswith(f"r.jsonl:{number + 1}: replaced: line {number + 2} was written after another")


def test_a_line_of_another_register_does_not_fit(whole, tmp_path):
    other = tmp_path / "s.jsonl"
    made(other)
    lines, foreign = lines_of(whole), lines_of(other.read_bytes())
    lines[3] = rehashed(foreign[3], made="2025-07-02T13:00:00Z")
    assert "replaced" in refused(joined(lines))


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda _: b"", "it is empty"),
        (lambda _: b"\n", "no register begins like this"),
        (lambda _: b"bench:\n  id: x\n", "no register begins like this"),
        (lambda data: b"\xef\xbb\xbf" + data, "r.jsonl:1: changed"),
        (lambda data: data.replace(b"\n", b"\r\n"), "made its line end anew"),
        (lambda data: data + b"\n", "does not end with its own SHA-256"),
        (lambda data: data.replace(b"}\n", b"} \n", 1), "does not end with its own SHA-256"),
        (
            lambda data: joined([rehashed(lines_of(data)[0], version=2)]),
            "has version 2, this software reads 1",
        ),
        (lambda data: joined([rehashed(lines_of(data)[0], previous="0" * 64)]), "version 1"),
        (lambda data: joined([rehashed(lines_of(data)[0], made="yesterday")]), "'made' is not as the schema"),
        (lambda data: joined([rehashed(lines_of(data)[0], more=1)]), "'more' is not as the schema"),
        (
            lambda data: joined([lines_of(data)[0], rehashed(lines_of(data)[1], content={"kind": "prayer"})]),
            "'content' is not as the schema",
        ),
    ],
)
def test_what_is_no_register_is_one_clear_error(whole, spoil, says):
    assert says in refused(spoil(whole))


def test_a_key_that_stands_twice_is_refused():
    text = '{"format":"interlock register","version":1,"version":1'
    line = f'{text},"sha256":"{hashlib.sha256(text.encode()).hexdigest()}"}}\n'
    with pytest.raises(RegisterError, match="a key stands twice"):
        read_chain("r.jsonl", line.encode())


def test_bytes_that_are_no_text_are_refused():
    text = b'{"format":"interlock register","version":1,"x":"\xff"'
    line = text + b',"sha256":"' + hashlib.sha256(text).hexdigest().encode() + b'"}\n'
    with pytest.raises(RegisterError, match="no line of a register"):
        read_chain("r.jsonl", line)


def test_the_path_is_told_as_given():
    with pytest.raises(RegisterError, match=r"^some/place\.jsonl: "):
        read_register(str(Path("some/place.jsonl")), b"")
