"""Typical values for parts without maker's data (ISO 13849-1 Table C.1) and coverage of measures (Table E.1).

Maker's data goes first, then this table, then 10 years (4.5.2). The year 2015 column serves 2023 too and is
from memory; the 2006 column was seen in a public copy.
"""

from dataclasses import dataclass
from typing import Final

from interlock.rating.step import Mark
from interlock.rating.values import choice

__all__ = [
    "COVERAGE",
    "TYPICAL",
    "Coverage",
    "Typical",
    "typical_b10d",
]


@dataclass(frozen=True, slots=True)
class Typical:
    """B10d in cycles or MTTFd in years of a kind of part, and under which condition."""

    b10d: float | None
    mttfd_years: float | None = None
    b10d_2006: float | None = None  # where the 2006 edition differs
    only_if: str = ""
    mark: Mark = Mark.PUBLISHED


_DIRECT: Final = "fault exclusion for direct opening action is possible"
_SMALL: Final = "the load is small, about 20 % of the rated one"

TYPICAL: Final = {
    "mechanical": Typical(None, 150),
    "hydraulic": Typical(None, 150),
    "pneumatic": Typical(2e7),
    "relay_small_load": Typical(2e7, only_if=_SMALL),
    "relay_full_load": Typical(4e5),
    "proximity_switch_small_load": Typical(2e7, only_if=_SMALL),
    "proximity_switch_full_load": Typical(4e5),
    "contactor_small_load": Typical(2e7, only_if=_SMALL),
    "contactor_nominal_load": Typical(1.3e6, b10d_2006=2e6, mark=Mark.FROM_MEMORY),
    "position_switch": Typical(2e7, only_if=_DIRECT),
    "position_switch_separate_actuator": Typical(2e6, only_if=_DIRECT),
    "emergency_stop": Typical(1e5, only_if=_DIRECT),
    "emergency_stop_full_demand": Typical(6050, only_if=_DIRECT),
    "push_button": Typical(1e5, only_if=_DIRECT),
}
"""Kinds of part by the name used in a bench description; all from Table C.1."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """The range of coverage that a measure may claim, as fractions; `caution` says what it depends on."""

    low: float
    high: float
    caution: str = ""


_HOW_OFTEN: Final = (
    "depends on how often the application changes the signal: rarely opened covers earn little"
)

COVERAGE: Final = {
    "cyclic_test_stimulus": Coverage(0.90, 0.90),
    "plausibility_linked_contacts": Coverage(0.99, 0.99),
    "cross_monitoring": Coverage(0.0, 0.99, _HOW_OFTEN),
    "cross_monitoring_dynamic": Coverage(0.90, 0.90, "shorts not detected"),
    "cross_monitoring_complete": Coverage(0.99, 0.99, "with program flow and shorts monitored"),
    "direct_monitoring": Coverage(0.99, 0.99, "mirror or mechanically linked contacts, position monitoring"),
    "indirect_monitoring": Coverage(0.90, 0.99, "depends on the application"),
    "by_the_process": Coverage(0.0, 0.99, "alone not enough for performance level e"),
    "sensor_characteristic": Coverage(0.60, 0.60),
    "one_output_channel": Coverage(0.0, 0.99, _HOW_OFTEN),
    "redundant_shut_off_unmonitored": Coverage(0.0, 0.0),
    "redundant_shut_off_one_monitored": Coverage(0.90, 0.90),
    "redundant_shut_off_monitored": Coverage(0.99, 0.99, "actuators monitored by logic and test equipment"),
    "time_watchdog": Coverage(0.60, 0.60),
    "time_and_logic_watchdog": Coverage(0.90, 0.90),
    "dynamic_principle": Coverage(0.99, 0.99, "every part changes state at each demand"),
}
"""Measures by the name used in a bench description; ISO 13849-1:2006, Table E.1."""


def typical_b10d(kind: str, edition: int) -> float | None:
    """B10d of a kind of part in the edition (2006, 2015 or 2023), or None where the table gives an MTTFd."""
    row = TYPICAL[choice("typical", kind, TYPICAL)]
    return row.b10d_2006 if edition == 2006 and row.b10d_2006 is not None else row.b10d
