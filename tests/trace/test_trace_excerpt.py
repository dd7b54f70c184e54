"""Excerpts of payloads: wanted signals decode from the kept bytes as cantools decodes them from the whole payload."""

import cantools
import numpy as np
import pytest
from cantools.database.can import Message, Signal
from cantools.database.conversion import BaseConversion
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.trace.decode import decode
from interlock.trace.excerpt import DATA, DIGEST, RIGHT, Excerpt, Long, digests, together
from interlock.trace.flaws import can_be_flawed, flaws_of
from interlock.trace.layout import MessageLayout, SignalLayout, layout_of
from interlock.trace.model import QualityKind

SIZE = 64


@st.composite
def messages(draw: st.DrawFn) -> Message:
    """A message of 64 bytes whose signals do not overlap, some of them on pages."""
    paged = draw(st.booleans())
    signals, at = [], 0
    if paged:
        signals.append(Signal("Page", 0, 2, is_multiplexer=True))
        every = [0, 1, 2, 3]  # cantools refuses a page that no signal is on
        signals.append(Signal("Any", 2, 1, multiplexer_ids=every, multiplexer_signal="Page"))
        at = 3
    for number in range(draw(st.integers(1, 8))):
        at += draw(st.integers(0, 70))
        length = draw(st.integers(1, 64))
        if at + length > 8 * SIZE:
            break
        big = draw(st.booleans())
        page = draw(st.sampled_from([None, [0], [1, 3]])) if paged else None
        signals.append(
            Signal(
                f"S{number}",
                8 * (at // 8) + 7 - at % 8 if big else at,
                length,
                byte_order="big_endian" if big else "little_endian",
                is_signed=draw(st.booleans()),
                conversion=BaseConversion.factory(scale=draw(st.sampled_from([1, 0.5, -2]))),
                multiplexer_ids=page,
                multiplexer_signal="Page" if page else None,
            )
        )
        at = 8 * -(-(at + length) // 8)
    return Message(1, "M", SIZE, signals, is_fd=True, strict=False)


PAYLOADS = st.lists(st.binary(min_size=SIZE, max_size=SIZE), min_size=1, max_size=6)


def block_of(payloads: list[bytes]) -> np.ndarray:
    return np.frombuffer(b"".join(payloads), np.uint8).reshape(len(payloads), -1)


@settings(max_examples=80, deadline=None)
@given(message=messages(), payloads=PAYLOADS, data=st.data())
def test_kept_signals_decode_as_cantools_decodes_the_whole_payload(
    message: Message, payloads: list[bytes], data: st.DataObject
) -> None:
    layout = layout_of(message)
    names = [signal.name for signal in layout.signals]
    wanted = data.draw(st.sets(st.sampled_from(names)))
    cut = Excerpt.of(layout, wanted)
    kept = cut.columns(block_of(payloads))
    assert kept[DATA].shape == (len(payloads), cut.left.length)
    assert {*wanted} <= {signal.name for signal in cut.left.signals} <= {*wanted, "Page"}
    sent = [cantools.database.can.Message.decode(message, one, decode_choices=False) for one in payloads]
    for name, (here, values) in decode(cut.left, kept[DATA]).items():
        assert here.tolist() == [name in one for one in sent]
        assert values.tolist() == [float(one[name]) for one in sent if name in one]


def ranged(name: str, start: int, length: int, *, big: bool = False, page: int | None = None) -> SignalLayout:
    selector, pages = (None, ()) if page is None else ("Page", (page,))
    return SignalLayout(name, "V", start, length, big, False, False, 1.0, 0.0, 0.0, 9.0, selector, pages)


LAYOUT = MessageLayout(
    "M",
    1,
    False,
    20,
    (
        SignalLayout("Page", "", 0, 8, False, False, False, 1.0, 0.0, None, None),
        ranged("Wide", 15, 16, big=True),
        ranged("Left", 80, 8, page=0),
        ranged("Right", 80, 8, page=1),
        SignalLayout("Free", "", 88, 8, False, False, False, 1.0, 0.0, None, None),
        SignalLayout("Real", "", 96, 32, False, False, True, 1.0, 0.0, -1.0, 1.0),
    ),
)


@pytest.mark.parametrize(
    ("name", "places"),
    [("Page", range(1)), ("Wide", range(1, 3)), ("Left", range(10, 11)), ("Real", range(12, 16))],
)
def test_a_signal_knows_its_bytes(name: str, places: range) -> None:
    assert next(one for one in LAYOUT.signals if one.name == name).bytes == places


@pytest.mark.parametrize(
    ("wanted", "kept"),
    [
        ([], []),
        (["Wide"], ["Wide"]),
        (["Right", "Real"], ["Page", "Right", "Real"]),
        (["Nobody"], []),
    ],
    ids=str,
)
def test_of_a_message_wanted_signals_and_their_selectors_are_left(wanted: list[str], kept: list[str]) -> None:
    assert [signal.name for signal in LAYOUT.only(wanted).signals] == kept


def test_selectors_of_selectors_are_left_too() -> None:
    inner = SignalLayout("Inner", "", 8, 8, False, False, False, 1.0, 0.0, None, None, "Page", (1,))
    leaf = SignalLayout("Leaf", "", 16, 8, False, False, False, 1.0, 0.0, None, None, "Inner", (2,))
    layout = MessageLayout("M", 1, False, 20, (LAYOUT.signals[0], inner, leaf, LAYOUT.signals[4]))
    assert [signal.name for signal in layout.only(["Leaf"]).signals] == ["Page", "Inner", "Leaf"]


def payload(page: int, wide: int, paged: int, real: float, free: int = 0) -> bytes:
    head = bytes([page]) + wide.to_bytes(2, "big") + bytes(7) + bytes([paged, free])
    return (head + np.float32(real).tobytes()).ljust(20, b"\0")


SENT = [
    payload(0, 3, 200, 0.5),
    payload(1, 300, 3, float("nan")),
    payload(0, 9, 9, float("inf")),
    payload(1, 3, 10, -1.0),
]


def test_signals_that_are_not_kept_are_looked_at_where_they_are_present() -> None:
    cut = Excerpt.of(LAYOUT, [])
    assert [one.name for one in cut.left.signals] == ["Page"]  # tells where the others are
    long = Long(cut, cut.columns(block_of(SENT)))
    found = {
        signal.name: [
            (flaw.kind, flaw.bad.tolist()) for flaw in long.flaws(signal, np.arange(4, dtype=np.int32))[1]
        ]
        for signal in LAYOUT.signals
    }
    outside, none = QualityKind.OUT_OF_RANGE, QualityKind.NOT_A_NUMBER
    assert found == {
        "Page": [],
        "Wide": [(outside, [False, True, False, False])],
        "Left": [(outside, [True, False])],
        "Right": [(outside, [False, True])],
        "Free": [],
        "Real": [(none, [False, True, True, False]), (outside, [False, False, True, False])],
    }


@pytest.mark.parametrize("order", [[3, 1], [0, 0, 2], []], ids=str)
def test_flaws_follow_the_order_that_is_asked_for(order: list[int]) -> None:
    cut = Excerpt.of(LAYOUT, [])
    long = Long(cut, cut.columns(block_of(SENT)))
    for signal in LAYOUT.signals[1:]:
        values = decode(LAYOUT, block_of([SENT[at] for at in order] or SENT)[: len(order)])[signal.name][1]
        direct = {flaw.text: flaw.bad.tolist() for flaw in flaws_of(signal, values) if flaw.bad.any()}
        _, flaws = long.flaws(signal, np.array(order, np.int32))
        assert {flaw.text: flaw.bad.tolist() for flaw in flaws if flaw.bad.any()} == direct


def test_what_cannot_be_flawed_is_not_looked_at() -> None:
    assert [one.name for one in LAYOUT.signals if can_be_flawed(one)] == ["Wide", "Left", "Right", "Real"]


@given(st.lists(st.binary(min_size=12, max_size=12), min_size=2, max_size=8))
def test_digests_tell_payloads_apart(payloads: list[bytes]) -> None:
    told = digests(block_of(payloads)).tolist()
    for one, mine in zip(payloads, told, strict=True):
        assert [mine == other for other in told] == [one == other for other in payloads]


@pytest.mark.parametrize("bit", range(0, 512, 37))
def test_no_two_bits_that_change_together_hide_each_other(bit: int) -> None:
    """Sums of words times odd numbers would let the highest bits of two words cancel out."""
    base = bytearray(64)
    base[bit // 8] ^= 1 << bit % 8
    blocks = [bytes(64)]
    for other in range(512):
        changed = bytearray(base)
        changed[other // 8] ^= 1 << other % 8
        blocks.append(bytes(changed))
    assert len({*digests(block_of(blocks)).tolist()}) == len({*blocks})


def test_padding_that_a_narrower_part_lacks_is_zero() -> None:
    layout = MessageLayout("M", 1, False, 11, LAYOUT.signals[:1])
    cut = Excerpt.of(layout, [], lambda data: data[:, 0] > 0, told_apart=True)
    narrow, wide = np.full((2, 11), 7, np.uint8), np.zeros((2, 64), np.uint8)
    wide[:, :11] = 7
    found, again = cut.columns(narrow), cut.columns(wide)
    assert found[DIGEST].tolist() == again[DIGEST].tolist()
    assert found[RIGHT].tolist() == [True, True]
    assert cut.fits(np.array([8, 11, 12, 16], np.uint8)).tolist() == [False, True, True, False]


def test_payloads_of_several_files_are_one_after_another() -> None:
    cut = Excerpt.of(LAYOUT, ["Free"])
    good, bad = cut.columns(block_of(SENT[:1])), cut.columns(block_of(SENT[1:2]))
    whole = together([Long(cut, good), Long(cut, bad), Long(cut, good)])
    assert len(whole) == 3
    expected = cut.columns(block_of([SENT[0], SENT[1], SENT[0]]))
    assert {key: column.tolist() for key, column in whole.columns.items()} == {
        key: column.tolist() for key, column in expected.items()
    }
