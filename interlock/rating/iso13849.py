"""ISO 13849-1 (2015 and 2023) in one place: from B10d and use to the performance level.

Order of the work: parts to channels (`mttfd_series`), cap each channel, symmetrise, average DC, read the
table (`pfhd`), combine the subsystems, compare with the required level. Years, hours, 1/h, fractions.
"""

from interlock.rating.iso13849_dc import (
    DC_CLASSES,
    DC_FLOOR,
    dc_average,
    dc_class,
    dc_class_with_tolerance,
    extreme_mttfds,
)
from interlock.rating.iso13849_level import (
    BANDS,
    PLS,
    SIL_OF_PL,
    Combined,
    combine,
    performance_level,
    pl_by_bars,
    reaches,
    required_pl,
)
from interlock.rating.iso13849_mttfd import (
    CAP_YEARS,
    category_name,
    mttfd_cap,
    mttfd_capped,
    mttfd_class,
    mttfd_from_b10d,
    mttfd_series,
    mttfd_symmetrised,
    operations_per_year,
    t10d,
)
from interlock.rating.iso13849_pfhd import column_class, pfhd, pfhd_cell

__all__ = [
    "BANDS",
    "CAP_YEARS",
    "DC_CLASSES",
    "DC_FLOOR",
    "PLS",
    "SIL_OF_PL",
    "Combined",
    "category_name",
    "column_class",
    "combine",
    "dc_average",
    "dc_class",
    "dc_class_with_tolerance",
    "extreme_mttfds",
    "mttfd_cap",
    "mttfd_capped",
    "mttfd_class",
    "mttfd_from_b10d",
    "mttfd_series",
    "mttfd_symmetrised",
    "operations_per_year",
    "performance_level",
    "pfhd",
    "pfhd_cell",
    "pl_by_bars",
    "reaches",
    "required_pl",
    "t10d",
]
