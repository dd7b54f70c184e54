"""States of a drive by its status word, against the bit patterns as the standard prints them.

CiA 402 / IEC 61800-7-201, object 6041h; the patterns agree in five public decoders. x: any value.
"""

import pytest

from interlock.bench.cia402 import STATE_BITS, STATE_OF_BITS, STATES

PATTERNS = {  # bits 6 5 4 3 2 1 0
    "not ready to switch on": "0xx0000",
    "switch on disabled": "1xx0000",
    "ready to switch on": "01x0001",
    "switched on": "01x0011",
    "operation enabled": "01x0111",
    "quick stop active": "00x0111",
    "fault reaction active": "0xx1111",
    "fault": "0xx1000",
}


def state(word: int) -> str | None:
    return dict[float, str](STATES).get(STATE_OF_BITS[word & (1 << STATE_BITS) - 1])


def matches(pattern: str, word: int) -> bool:
    return all(want in ("x", bit) for want, bit in zip(pattern, f"{word & 0x7F:07b}", strict=True))


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        (0x0228, "fault"),  # bit 5 is set: it tells nothing there
        (0x0250, "switch on disabled"),
        (0x0637, "operation enabled"),
        (0x0617, "quick stop active"),
    ],
)
def test_words_of_which_one_bit_misleads(word: int, expected: str) -> None:
    assert state(word) == expected


def test_each_word_has_the_state_of_its_pattern_and_any_other_has_none() -> None:
    """Bit 4 and those above 6 tell nothing of the state, and what fits no pattern is not guessed."""
    for word in [high | low for high in (0, 0x80, 0x600, 0xFF80) for low in range(0x80)]:
        fitting = [name for name, pattern in PATTERNS.items() if matches(pattern, word)]
        assert len(fitting) <= 1
        assert state(word) == (fitting[0] if fitting else None)
