"""Rating sections made up for the tests (no real bench): a cover stop, and the two examples of Annex I."""

import copy
from typing import Any

from interlock.rating.chain_facts import ChainFacts

CCF_70 = ["separation", "diversity", "contamination_and_emc", "other_influences"]
DAILY = {"days_per_year": 240.0, "hours_per_day": 8.0, "cycle_time_s": 900.0}


def switch(**more: Any) -> dict[str, Any]:
    """A guard switch, fully monitored."""
    base = {
        "source": "data sheet",
        "b10d": 2e6,
        "operations": dict(DAILY),
        "dc": 0.99,
        "dc_measure": "direct_monitoring",
    }
    return {**base, **more}


COVER_STOP: dict[str, Any] = {
    "edition": 2015,
    "parts": {
        "switch_1": switch(),
        "switch_2": switch(),
        "contactor_1": switch(b10d=1.3e6),
        "drive": {"source": "maker", "mttfd_years": 150.0, "dc": 0.9, "dc_source": "maker's analysis"},
    },
    "functions": {
        "cover_stop": {
            "required": {"severity": "S2", "frequency": "F2", "avoidance": "P1"},
            "proof_test_months": 12.0,
            "subsystems": {
                "input": {"category": 3, "channels": [["switch_1"], ["switch_2"]], "ccf": CCF_70},
                "logic": {"pl": "e", "pfhd_per_h": 4.9e-9, "source": "data sheet of the relay"},
                "output": {"category": 3, "channels": [["contactor_1"], ["drive"]], "ccf": CCF_70},
            },
        }
    },
}

PROVEN = {"cover_stop": ["B", "1", "2", "3"]}


def given_part(years: float, dc: float = 0.0) -> dict[str, Any]:
    """A part as Annex I gives it."""
    base: dict[str, Any] = {"source": "Annex I", "mttfd_years": years}
    return {**base, "dc": dc, "dc_source": "Annex I"} if dc else base


EXAMPLE_A: dict[str, Any] = {  # AS 4024.1503 (adopts ISO 13849-1:2006), I.3
    "edition": 2015,
    "parts": {"SW1A": given_part(20), "K1A": given_part(50)},
    "functions": {
        "guard": {
            "required": {"severity": "S2", "frequency": "F1", "avoidance": "P1"},
            "subsystems": {"all": {"category": "B", "channels": [["SW1A", "K1A"]]}},
        }
    },
}

EXAMPLE_B: dict[str, Any] = {  # I.4: SW1B is left out by fault exclusion
    "edition": 2015,
    "parts": {
        "SW1B": {"source": "Annex I", "fault_exclusion": "direct opening action, positive mode of actuation"},
        "K1B": given_part(30, 0.99),
        "SW2": given_part(20, 0.60),
        "PLC": given_part(20, 0.30),
        "CC": given_part(20, 0.90),
    },
    "functions": {
        "guard": {
            "required": {"severity": "S2", "frequency": "F1", "avoidance": "P1"},
            "subsystems": {
                "all": {
                    "category": 3,
                    "channels": [["SW1B", "K1B"], ["SW2", "PLC", "CC"]],
                    "ccf": [
                        "separation",
                        "diversity",
                        "well_tried_components",
                        "failure_analysis",
                        "contamination_and_emc",
                        "other_influences",
                    ],
                }
            },
        }
    },
}


def changed(section: dict[str, Any], **paths: Any) -> dict[str, Any]:
    """A copy with values set by path, keys joined by two underscores; None deletes the key."""
    new = copy.deepcopy(section)
    for path, value in paths.items():
        *way, last = path.split("__")
        at = new
        for key in way:
            at = at[key]
        if value is None:
            del at[last]
        else:
            at[last] = value
    return new


def facts(**more: Any) -> ChainFacts:
    """A chain of which everything rated here is covered; `more` replaces single facts."""
    covered = dict.fromkeys(("cover_stop", "guard", "second"), ())
    base: dict[str, Any] = {
        "unrated": covered,
        "unrated_low_demand": covered,
        "locked": {},
        "revealed": None,
    }
    return ChainFacts(**{**base, **more})


COVERED = facts()
