"""Checksums by columns, against the examples of the AUTOSAR specification and a general-purpose library of checks.

Examples: AUTOSAR "Specification of CRC Routines" (SWS_CRCLibrary, R20-11), tables "CRC ... calculation examples" at
each routine (table numbers differ by release; from memory). Library: crccheck.
"""

import crccheck.crc
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.trace.crc import CRC8_H2F, CRC8_J1850_ZERO, CRC16_CCITT_FALSE, CRC32_P4, Crc, checksums

CRC8_J1850 = Crc(8, 0x1D, 0xFF, 0xFF)
"""With its usual start and end, as the specification's examples have it."""

DATA = (
    "00000000",
    "F20183",
    "0FAA0055",
    "00FF5511",
    "332255AABBCCDDEEFF",
    "926B55",
    "FFFFFFFF",
)
EXAMPLES = {
    CRC8_J1850: ("59", "37", "79", "B8", "CB", "8C", "74"),
    CRC8_H2F: ("12", "C2", "C6", "77", "11", "33", "6C"),
    CRC16_CCITT_FALSE: ("84C0", "D374", "2023", "B8F9", "F53F", "0745", "1D0F"),
    CRC32_P4: ("6FB32240", "4F721A25", "20662DF8", "9BD7996E", "A65A343D", "EE688A78", "FFFFFFFF"),
}


class ZeroJ1850(crccheck.crc.Crc8SaeJ1850):
    """The check of profiles 1 and 11, by the library."""

    _initvalue = 0x00
    _xor_output = 0x00


LIBRARY = {
    CRC8_J1850: crccheck.crc.Crc8SaeJ1850,
    CRC8_J1850_ZERO: ZeroJ1850,
    CRC8_H2F: crccheck.crc.Crc8Autosar,
    CRC16_CCITT_FALSE: crccheck.crc.Crc16Ibm3740,
    CRC32_P4: crccheck.crc.Crc32Autosar,
}


def by_columns(crc: Crc, rows: list[bytes]) -> list[int]:
    block = np.array([list(row) for row in rows], np.uint8).reshape(len(rows), -1)
    return checksums(crc, len(rows), [block[:, byte] for byte in range(block.shape[1])]).tolist()


@pytest.mark.parametrize("crc", EXAMPLES, ids=lambda crc: f"{crc.bits}_{crc.polynomial:x}")
def test_examples_of_the_specification(crc: Crc) -> None:
    got = [by_columns(crc, [bytes.fromhex(data)])[0] for data in DATA]
    assert got == [int(due, 16) for due in EXAMPLES[crc]]


@pytest.mark.parametrize("crc", LIBRARY, ids=lambda crc: f"{crc.bits}_{crc.polynomial:x}_{crc.start:x}")
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_any_rows_as_the_library_has_them(crc: Crc, data: st.DataObject) -> None:
    width = data.draw(st.integers(1, 64))
    rows = data.draw(st.lists(st.binary(min_size=width, max_size=width), min_size=1, max_size=4))
    assert by_columns(crc, rows) == [LIBRARY[crc].calc(row) for row in rows]


def test_one_byte_for_all_rows_is_that_byte_in_each() -> None:
    rows = np.array([[1, 2], [3, 4]], np.uint8)
    fixed = checksums(CRC16_CCITT_FALSE, 2, [rows[:, 0], 0x5A, rows[:, 1]]).tolist()
    assert fixed == by_columns(CRC16_CCITT_FALSE, [bytes([1, 0x5A, 2]), bytes([3, 0x5A, 4])])


def test_no_rows_have_no_checksums() -> None:
    assert checksums(CRC8_H2F, 0, [7]).tolist() == []
