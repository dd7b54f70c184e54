"""Mean dangerous failures an hour of a subsystem by ISO 13849-1 Table K.1; never read optimistically."""

from typing import Final

from interlock.errors import RatingError
from interlock.rating.iso13849_dc import DC_CLASSES
from interlock.rating.iso13849_mttfd import category_name, mttfd_capped
from interlock.rating.iso13849_table import COLUMNS, Cell
from interlock.rating.values import choice

__all__ = ["column_class", "pfhd", "pfhd_cell"]

# The classes of DC that a category asks for (6.2.3 to 6.2.7), worst first. A better one earns no better column.
_CLASSES: Final = {
    "B": ("none",),
    "1": ("none",),
    "2": ("low", "medium"),
    "3": ("low", "medium"),
    "4": ("high",),
}


def column_class(category: object, dc_class: str) -> str:
    """The DC class of the column that is read: the best one of the category that `dc_class` reaches.

    RatingError if the coverage is below what the category asks for (category 2 or 3: low, category 4: high).
    """
    name, given = category_name(category), choice("dc_class", dc_class, DC_CLASSES)
    reached = [wanted for wanted in _CLASSES[name] if DC_CLASSES.index(wanted) <= DC_CLASSES.index(given)]
    if not reached:
        raise RatingError(
            f"dc_class is {given!r}: category {name} needs an average diagnostic coverage of at least "
            f"{_CLASSES[name][0]!r} (ISO 13849-1, 6.2); test more, or claim a lower category"
        )
    return reached[-1]


def pfhd_cell(category: object, mttfd: float, dc_class: str) -> Cell:
    """The cell of Table K.1 that is read: the row at or below the channel's MTTFd, after its cap.

    The table does not describe interpolation; the row below never promises more than the table.
    """
    name = category_name(category)
    column = COLUMNS[name, column_class(name, dc_class)]
    years = mttfd_capped(mttfd, name)
    rows = [cell for cell in column if cell.mttfd <= years]
    if not rows:
        raise RatingError(
            f"mttfd is {years!r} years: category {name} needs at least {column[0].mttfd:g} years in each "
            f"channel (ISO 13849-1, 6.2 and Table 5); better or less used parts, or another category"
        )
    return rows[-1]


def pfhd(category: object, mttfd: float, dc_class: str) -> float:
    """Mean dangerous failures an hour, 1/h, of a subsystem by the simplified procedure.

    `category` 'B', '1' ... '4' (or 1 ... 4), `mttfd` of each channel in years after symmetrising, `dc_class`
    'none', 'low', 'medium' or 'high'. Assumes what the table does: 20 years, constant rates, β 2 %, and for
    category 2 the test rate and test channel of 4.5.4. Source: ISO 13849-1:2015, Table K.1; 2023 alike
    (from memory); cells marked in `iso13849_table`.
    """
    return pfhd_cell(category, mttfd, dc_class).pfhd
