"""Cyclic redundancy checks over columns of bytes: one step a column, all rows at once."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["CRC8_H2F", "CRC8_J1850_ZERO", "CRC16_CCITT_FALSE", "CRC32_P4", "Crc", "checksums"]

Numbers = NDArray[np.uint32]


@dataclass(frozen=True, slots=True)
class Crc:
    """A check in the usual terms; `reflected`: the lowest bit of each byte goes in first."""

    bits: int
    polynomial: int
    start: int
    final: int  # what the register is combined with at the end
    reflected: bool = False


CRC8_J1850_ZERO: Final = Crc(8, 0x1D, 0x00, 0x00)
"""SAE J1850 as the E2E profiles 1 and 11 use it: with zero to start and to end with."""

CRC8_H2F: Final = Crc(8, 0x2F, 0xFF, 0xFF)
CRC16_CCITT_FALSE: Final = Crc(16, 0x1021, 0xFFFF, 0x0000)
CRC32_P4: Final = Crc(32, 0xF4ACFB13, 0xFFFFFFFF, 0xFFFFFFFF, reflected=True)
"""Checks of the AUTOSAR "Specification of CRC Routines" (SWS_CRCLibrary), chapter on functional specification."""


@cache
def _table(crc: Crc) -> Numbers:
    return np.array([_step(crc, byte) for byte in range(256)], np.uint32)


def _step(crc: Crc, byte: int) -> int:
    """The register after one byte, from zero."""
    mask = (1 << crc.bits) - 1
    if crc.reflected:
        polynomial = int(f"{crc.polynomial:0{crc.bits}b}"[::-1], 2)
        register = byte
        for _ in range(8):
            register = register >> 1 ^ (polynomial if register & 1 else 0)
        return register
    register = byte << crc.bits - 8
    for _ in range(8):
        top = register >> crc.bits - 1 & 1
        register = (register << 1 & mask) ^ (crc.polynomial if top else 0)
    return register


def checksums(crc: Crc, rows: int, columns: Iterable["NDArray[np.uint8] | int"]) -> Numbers:
    """The checksum of each of so many rows; a column is one byte a row [rows], or one byte for all."""
    table, mask = _table(crc), np.uint32((1 << crc.bits) - 1)
    register = np.full(rows, crc.start, np.uint32)
    for column in columns:
        byte = np.uint32(column) if isinstance(column, int) else column.astype(np.uint32)
        if crc.reflected:
            register = table[(register ^ byte) & np.uint32(0xFF)] ^ (register >> np.uint32(8))
        else:
            top = register >> np.uint32(crc.bits - 8)
            register = table[(top ^ byte) & np.uint32(0xFF)] ^ ((register << np.uint32(8)) & mask)
    return register ^ np.uint32(crc.final)
