"""Files whose blocks fit together are told from those that could lead a reader astray.

The blocks are laid out after ASAM MDF 4.1 (from memory).
"""

import io
import logging
import struct
import sys
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.errors import LogError
from interlock.trace.mf4_blocks import fits_together
from interlock.trace.paged import Paged
from interlock.trace.readers import read_log


def block(name: bytes, links: tuple[int, ...], data: bytes) -> bytes:
    size = 24 + 8 * len(links) + len(data)
    head = struct.pack("<4s4xQQ", name, size, len(links)) + struct.pack(f"<{len(links)}Q", *links) + data
    return head + bytes(-len(head) % 8)


@dataclass(frozen=True)
class Plan:
    """A file of one data group: a time of eight bytes and a number of two in each record."""

    first: bytes = b"MDF     "
    cycles: int = 20
    size: int = 10
    packed: bool = True
    listed: bool = True
    offset: int = 8  # of the number
    bits: int = 16
    kind: int = 0  # of its channel; 1: of variable length
    links: dict[str, int] = field(default_factory=dict)  # to lead astray

    def content(self) -> bytes:
        """The file."""
        records = bytes(200)
        if self.packed:
            body = zlib.compress(records)
            data = block(b"##DZ", (), struct.pack("<2sBBIQQ", b"DT", 0, 0, 0, len(records), len(body)) + body)
        else:
            data = block(b"##DT", (), records)
        places, at = {}, 64
        sizes = {"hd": 104, "dg": 64, "cg": 104, "time": 160, "number": 160, "dl": 56, "data": len(data)}
        for name, size in sizes.items():
            places[name] = at
            at += size
        places |= self.links
        source = places["dl"] if self.listed else places["data"]
        values = places["data"] if self.kind == 1 else 0
        number = struct.pack("<BBBBII", self.kind, 0, 0, 0, self.offset, self.bits) + bytes(60)
        group = struct.pack("<QQHHIII", 0, self.cycles, 0, 0, 0, self.size, 0)
        parts = [
            block(b"##HD", (places["dg"], 0, 0, 0, 0, 0), bytes(32)),
            block(b"##DG", (0, places["cg"], source, 0), bytes(8)),
            block(b"##CG", (0, places["time"], 0, 0, 0, 0), group),
            block(
                b"##CN", (places["number"], *[0] * 7), struct.pack("<BBBBII", 2, 1, 4, 0, 0, 64) + bytes(60)
            ),
            block(b"##CN", (0, 0, 0, 0, 0, values, 0, 0), number),
            block(b"##DL", (0, places["data"]), struct.pack("<B3xIQ", 1, 1, 200)),
            data,
        ]
        assert [len(part) for part in parts][:6] == list(sizes.values())[:6]
        return self.first.ljust(64, b"\0") + b"".join(parts)


SOUND = Plan()


@pytest.mark.parametrize(
    "plan",
    [
        SOUND,
        replace(SOUND, packed=False),
        replace(SOUND, listed=False),
        replace(SOUND, packed=False, listed=False),
        replace(SOUND, kind=1),
        replace(SOUND, cycles=0),
        replace(SOUND, links={"number": 0}),
    ],
)
def test_sound_files_fit(plan: Plan) -> None:
    assert fits_together(plan.content())


@pytest.mark.parametrize(
    "plan",
    [
        replace(SOUND, first=b"UnFinMF "),
        replace(SOUND, cycles=21),
        replace(SOUND, cycles=2**63),
        replace(SOUND, size=2**32 - 1),
        replace(SOUND, offset=9),
        replace(SOUND, bits=17),
        replace(SOUND, bits=2**32 - 1),
        replace(SOUND, kind=1, packed=False),
        *(
            replace(SOUND, links={name: at})
            for name in ("dg", "cg", "time", "number", "dl", "data")
            for at in (1, 40, 100, 10**6, 2**64 - 1)
        ),
    ],
    ids=repr,
)
def test_what_does_not_fit_is_found(plan: Plan) -> None:
    assert not fits_together(plan.content())


LINKS = {b"##HD": 6, b"##DG": 4, b"##CG": 6, b"##CN": 8, b"##DL": 1}


@pytest.mark.parametrize("name", LINKS, ids=bytes.decode)
def test_a_block_with_too_few_links_does_not_fit(name: bytes) -> None:
    # Found by fuzzing: a header without links ended in an error of the program. Counts after ASAM MDF 4.1, from memory.
    sound = Plan().content()
    at = sound.index(name)
    for links in range(LINKS[name]):
        assert not fits_together(sound[: at + 16] + struct.pack("<Q", links) + sound[at + 24 :])


def test_a_channel_that_follows_itself_ends() -> None:
    assert not fits_together(replace(SOUND, links={"time": 64 + 104 + 64}).content())
    looped = bytearray(SOUND.content())
    at = 64 + 104 + 64 + 104  # of the first channel
    struct.pack_into("<Q", looped, at + 24, at)
    assert not fits_together(bytes(looped))


@settings(max_examples=150, deadline=None)
@given(cut=st.integers(0, 900))
def test_a_file_that_is_cut_does_not_fit(cut: int) -> None:
    content = SOUND.content()
    if cut <= len(content) - 8:  # behind the last block there may be filling
        assert not fits_together(content[:cut])
    if cut >= len(content):
        assert fits_together(content[:cut])


@settings(max_examples=150, deadline=None)
@given(data=st.binary(max_size=300))
def test_any_bytes_get_an_answer(data: bytes) -> None:
    assert not fits_together(data)
    assert not fits_together(b"MDF     ".ljust(64, b"\0") + data)


class _Talking:
    """A library that prints what troubles it, and fails."""

    def MDF(self, stream: object) -> object:  # noqa: N802 the library's name
        print("GROUP ====")
        told = logging.getLogger("asammdf")  # as the library does, with a handler of its own
        told.addHandler(logging.StreamHandler())
        told.error("could not parse the block")
        raise RuntimeError("a channel that cannot be")


@pytest.mark.parametrize("plan", [SOUND, replace(SOUND, cycles=21)], ids=["fits", "does not"])
def test_what_the_library_prints_does_not_stand_among_the_results(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "asammdf", _Talking())
    path = tmp_path / "a.mf4"
    path.write_bytes(plan.content())
    with pytest.raises(LogError, match=r"a\.mf4: an MF4 file that cannot be read .*a channel that cannot be"):
        read_log(path)
    assert capfd.readouterr() == ("", "")
    told = logging.getLogger("asammdf")
    assert not told.disabled
    for handler in told.handlers[:]:
        told.removeHandler(handler)


@pytest.mark.parametrize("page", [1, 30, 1000])
@pytest.mark.parametrize("plan", [SOUND, replace(SOUND, packed=False), replace(SOUND, cycles=21)])
def test_looked_at_in_pages_it_is_the_same(plan: Plan, page: int) -> None:
    content = plan.content()
    assert fits_together(Paged(io.BytesIO(content), len(content), page)) == fits_together(content)


def test_records_without_a_byte_are_vouched_for_by_nothing() -> None:
    assert not fits_together(replace(SOUND, size=0, cycles=2**40, offset=0, bits=0).content())
