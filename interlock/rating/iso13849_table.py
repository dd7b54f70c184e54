"""The cells of ISO 13849-1 Table K.1: mean dangerous failures an hour by channel MTTFd, category and DC.

Each cell ends with its mark: `c` is 1/(8760 · MTTFd) to the printed digits; `s` was seen in a public
copy of the standard on this row; `n` was seen there on a lower row (it slipped), the row is from
memory; `x` is printed there with another last digit, the digit is from memory; `m` is from memory alone.
All cells of category 4 above 100 years (2015 and later) are from memory. A Markov model agrees with every
cell within 5 %, for category 3 with low DC within 0 to +27 % (tests/rating/test_iso13849_markov.py).
"""

from dataclasses import dataclass
from typing import Final

from interlock.rating.step import Mark

__all__ = ["COLUMNS", "Cell"]


@dataclass(frozen=True, slots=True)
class Cell:
    """One number of the table: the row's MTTFd in years, PFHd in 1/h, and where it comes from."""

    mttfd: float
    pfhd: float
    mark: Mark


# MTTFd in years: no DC (categories B and 1), 2 low, 2 medium, 3 low, 3 medium, 4 high
_ROWS: Final = (
    (3, "3.80e-5 c", "2.58e-5 s", "1.99e-5 s", "1.26e-5 s", "6.09e-6 s", ""),
    (3.3, "3.46e-5 c", "2.33e-5 s", "1.79e-5 s", "1.13e-5 s", "5.41e-6 s", ""),
    (3.6, "3.17e-5 c", "2.13e-5 s", "1.62e-5 s", "1.03e-5 s", "4.86e-6 s", ""),
    (3.9, "2.93e-5 c", "1.95e-5 s", "1.48e-5 s", "9.37e-6 s", "4.40e-6 s", ""),
    (4.3, "2.65e-5 c", "1.76e-5 s", "1.33e-5 s", "8.39e-6 x", "3.89e-6 s", ""),
    (4.7, "2.43e-5 c", "1.60e-5 s", "1.20e-5 s", "7.58e-6 s", "3.48e-6 s", ""),
    (5.1, "2.24e-5 c", "1.47e-5 s", "1.10e-5 s", "6.91e-6 s", "3.15e-6 s", ""),
    (5.6, "2.04e-5 c", "1.33e-5 s", "9.87e-6 s", "6.21e-6 s", "2.80e-6 x", ""),
    (6.2, "1.84e-5 c", "1.19e-5 s", "8.80e-6 s", "5.53e-6 s", "2.47e-6 s", ""),
    (6.8, "1.68e-5 c", "1.08e-5 s", "7.93e-6 s", "4.98e-6 s", "2.20e-6 s", ""),
    (7.5, "1.52e-5 c", "9.75e-6 s", "7.10e-6 s", "4.45e-6 s", "1.95e-6 s", ""),
    (8.2, "1.39e-5 c", "8.87e-6 s", "6.43e-6 s", "4.02e-6 s", "1.74e-6 s", ""),
    (9.1, "1.25e-5 c", "7.94e-6 s", "5.71e-6 s", "3.57e-6 s", "1.53e-6 s", ""),
    (10, "1.14e-5 c", "7.18e-6 s", "5.14e-6 s", "3.21e-6 s", "1.36e-6 s", ""),
    (11, "1.04e-5 c", "6.44e-6 s", "4.53e-6 s", "2.81e-6 x", "1.18e-6 s", ""),
    (12, "9.51e-6 c", "5.84e-6 s", "4.04e-6 s", "2.49e-6 s", "1.04e-6 s", ""),
    (13, "8.78e-6 c", "5.33e-6 s", "3.64e-6 s", "2.23e-6 s", "9.21e-7 s", ""),
    (15, "7.61e-6 c", "4.53e-6 s", "3.01e-6 s", "1.82e-6 s", "7.44e-7 s", ""),
    (16, "7.13e-6 c", "4.21e-6 s", "2.77e-6 s", "1.67e-6 s", "6.76e-7 s", ""),
    (18, "6.34e-6 c", "3.68e-6 s", "2.37e-6 s", "1.41e-6 s", "5.67e-7 s", ""),
    (20, "5.71e-6 c", "3.26e-6 s", "2.06e-6 s", "1.22e-6 s", "4.85e-7 x", ""),
    (22, "5.19e-6 c", "2.93e-6 s", "1.82e-6 s", "1.07e-6 s", "4.21e-7 s", ""),
    (24, "4.76e-6 c", "2.65e-6 s", "1.62e-6 s", "9.47e-7 s", "3.70e-7 s", ""),
    (27, "4.23e-6 c", "2.32e-6 s", "1.39e-6 s", "8.04e-7 x", "3.10e-7 s", ""),
    (30, "3.80e-6 c", "2.06e-6 s", "1.21e-6 s", "6.94e-7 s", "2.65e-7 s", "9.54e-8 s"),
    (33, "3.46e-6 c", "1.85e-6 s", "1.06e-6 s", "5.94e-7 s", "2.30e-7 s", "8.57e-8 s"),
    (36, "3.17e-6 c", "1.67e-6 s", "9.39e-7 s", "5.16e-7 x", "2.01e-7 s", "7.77e-8 m"),
    (39, "2.93e-6 c", "1.53e-6 s", "8.40e-7 s", "4.53e-7 s", "1.78e-7 s", "7.11e-8 n"),
    (43, "2.65e-6 c", "1.37e-6 s", "7.34e-7 s", "3.87e-7 s", "1.54e-7 s", "6.37e-8 n"),
    (47, "2.43e-6 c", "1.24e-6 s", "6.49e-7 s", "3.35e-7 s", "1.34e-7 s", "5.76e-8 n"),
    (51, "2.24e-6 c", "1.13e-6 n", "5.80e-7 n", "2.93e-7 n", "1.19e-7 n", "5.26e-8 m"),
    (56, "2.04e-6 c", "1.02e-6 n", "5.10e-7 m", "2.52e-7 m", "1.03e-7 n", "4.73e-8 n"),
    (62, "1.84e-6 c", "9.06e-7 m", "4.43e-7 n", "2.13e-7 n", "8.84e-8 n", "4.22e-8 n"),
    (68, "1.68e-6 c", "8.17e-7 n", "3.90e-7 n", "1.84e-7 n", "7.68e-8 n", "3.80e-8 n"),
    (75, "1.52e-6 c", "7.31e-7 m", "3.40e-7 m", "1.57e-7 n", "6.62e-8 n", "3.41e-8 n"),
    (82, "1.39e-6 c", "6.61e-7 n", "3.01e-7 s", "1.35e-7 n", "5.79e-8 n", "3.08e-8 s"),
    (91, "1.25e-6 c", "5.88e-7 m", "2.61e-7 s", "1.14e-7 m", "4.94e-8 m", "2.74e-8 s"),
    (100, "1.14e-6 c", "5.28e-7 s", "2.29e-7 s", "1.01e-7 s", "4.29e-8 s", "2.47e-8 s"),
)
# category 4, high DC, above 100 years: (MTTFd, PFHd), all from memory
_CATEGORY_4_ABOVE_100: Final = (
    (110, 2.23e-8),
    (120, 2.03e-8),
    (130, 1.87e-8),
    (150, 1.61e-8),
    (160, 1.50e-8),
    (180, 1.33e-8),
    (200, 1.19e-8),
    (220, 1.08e-8),
    (240, 9.81e-9),
    (270, 8.67e-9),
    (300, 7.76e-9),
    (330, 7.04e-9),
    (360, 6.44e-9),
    (390, 5.94e-9),
    (430, 5.38e-9),
    (470, 4.91e-9),
    (510, 4.52e-9),
    (560, 4.11e-9),
    (620, 3.70e-9),
    (680, 3.37e-9),
    (750, 3.05e-9),
    (820, 2.79e-9),
    (910, 2.51e-9),
    (1000, 2.28e-9),
    (1100, 2.07e-9),
    (1200, 1.90e-9),
    (1300, 1.75e-9),
    (1500, 1.51e-9),
    (1600, 1.42e-9),
    (1800, 1.26e-9),
    (2000, 1.13e-9),
    (2200, 1.03e-9),
    (2300, 9.85e-10),
    (2400, 9.44e-10),
    (2500, 9.06e-10),
)
_MARKS: Final = {"c": Mark.COMPUTED, "s": Mark.PUBLISHED} | dict.fromkeys("nxm", Mark.FROM_MEMORY)


def _column(index: int, start: float, end: float) -> tuple[Cell, ...]:
    texts = [(years, cells[index].split()) for years, *cells in _ROWS if start <= years < end]
    return tuple(Cell(years, float(text[0]), _MARKS[text[1]]) for years, text in texts if text)


_ABOVE_100: Final = tuple(Cell(years, pfhd, Mark.FROM_MEMORY) for years, pfhd in _CATEGORY_4_ABOVE_100)

COLUMNS: Final = {
    ("B", "none"): _column(0, 3, 30),  # category B has at most a medium MTTFd
    ("1", "none"): _column(0, 30, 101),  # category 1 needs a high one
    ("2", "low"): _column(1, 3, 101),
    ("2", "medium"): _column(2, 3, 101),
    ("3", "low"): _column(3, 3, 101),
    ("3", "medium"): _column(4, 3, 101),
    ("4", "high"): _column(5, 30, 101) + _ABOVE_100,
}
"""Cells by (category, DC class), MTTFd rising."""
