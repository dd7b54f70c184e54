"""One element of a chain in low demand: what its proof test finds, and its PFDavg, step by step."""

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Final

from interlock.rating.iec61508 import (
    interval_with_imperfect_test_h,
    pfd_1oo1,
    pfd_1oo2,
    pfd_1oo2d,
    pfd_2oo2,
    pfd_2oo3,
)
from interlock.rating.inputs_bench import Element
from interlock.rating.step import Mark, Trail
from interlock.rating.values import as_written, needed

__all__ = ["element_pfd", "found_by_plan"]

_ANNEX: Final = "IEC 61508-6:2010, Annex B"
_PFD: Final[Mapping[str, Callable[[float, float, float, float, float, float], float]]] = {
    "1oo1": pfd_1oo1,
    "1oo2": pfd_1oo2,
    "2oo2": pfd_2oo2,
    "2oo3": pfd_2oo3,
}
_COMMON: Final = "b * U * (T / 2 + R)"
_OWN: Final = f"((1 - bD) * D + (1 - b) * U) ** 2 * tCE * tGE + bD * D * R + {_COMMON}"
_FORMULA: Final = {
    "1oo1": "(U + D) * tCE",
    "2oo2": "2 * (U + D) * tCE",
    "1oo2": f"2 * {_OWN}",
    "2oo3": f"6 * {_OWN}",
    "1oo2D": "2 * (1 - b) * U * ((1 - b) * U + (1 - bD) * D + S) * tCE * tGE + 2 * (1 - K) * D * tCE + "
    f"{_COMMON}",
}


def element_pfd(name: str, element: Element, revealed: Mapping[str, bool] | None, trail: Trail) -> float:
    """PFDavg of one element; `revealed`: by fault whether the derived proof test shows it (None: not known)."""
    interval = _interval(name, element, revealed, trail)
    undetected, detected = element.lambda_du_per_h.worse_end, element.lambda_dd_per_h
    beta, beta_d = (0.0 if one is None else one.worse_end for one in (element.beta, element.beta_d))
    numbers = {"U": undetected, "D": detected, "T": interval, "R": element.mttr_h}
    if element.architecture == "1oo2D":
        safe, switching = needed("lambda_sd", element.lambda_sd_per_h), needed("K", element.switching)
        result = pfd_1oo2d(
            undetected, detected, safe, interval, element.mttr_h, beta, beta_d, switching=switching
        )
        more = {"S": safe, "K": switching}
    else:
        result, more = (
            _PFD[element.architecture](undetected, detected, interval, element.mttr_h, beta, beta_d),
            {},
        )
    numbers |= {"b": beta, "bD": beta_d} | more
    numbers |= _down_times(name, element.architecture, numbers, trail)
    formula = _FORMULA[element.architecture]
    return trail.note(
        f"{name}: PFDavg of {element.architecture}",
        formula,
        _used(formula, numbers),
        result,
        source=f"{_ANNEX}; failure rates by {element.source}",
        mark=Mark.FROM_MEMORY,
    )


def _down_times(name: str, architecture: str, numbers: Mapping[str, float], trail: Trail) -> dict[str, float]:
    """Mean hours that a channel (tCE), and a pair of them (tGE), stay failed."""
    u, d, t, r = (numbers[key] for key in ("U", "D", "T", "R"))
    kept = d + numbers.get("S", 0.0)  # in 1oo2D detected safe failures count as well
    own = "D" if architecture != "1oo2D" else "(D + S)"
    among = (("tCE", 2), ("tGE", 3)) if architecture in ("1oo2", "2oo3") else (("tCE", 2),)
    found = {
        short: trail.note(
            f"{name}: mean down time {short}",
            formula := f"(U * (T / {of} + R) + {own} * R) / (U + {own.strip('()')})",
            _used(formula, numbers),
            (u * (t / of + r) + kept * r) / (u + kept),
            unit="h",
            source=f"{_ANNEX}, B.3.2.2",
        )
        for short, of in among
    }
    if architecture == "1oo2D":
        found["tGE"] = trail.note(
            f"{name}: mean down time tGE",
            "T / 3 + R",
            {"T": t, "R": r},
            t / 3 + r,
            unit="h",
            source=f"{_ANNEX}, B.3.2.2.4",
            mark=Mark.FROM_MEMORY,
        )
    return found


def _used(formula: str, numbers: Mapping[str, float]) -> dict[str, float]:
    """The numbers that the formula names."""
    named = set(re.findall(r"[A-Za-z_]\w*", formula))
    return {key: value for key, value in numbers.items() if key in named}


def _interval(name: str, element: Element, revealed: Mapping[str, bool] | None, trail: Trail) -> float:
    stated = element.proof_test_coverage
    most = 1.0 if isinstance(stated, str) else stated.worse_end
    share = most
    if revealed is not None:
        planned, why = found_by_plan(element, revealed)
        share = trail.note(
            f"{name}: share of its failures that the proof test finds",
            "min(stated, derived)",
            {"stated": most, "derived": planned},
            min(most, planned),
            source=f"stated: {element.source}; derived: the proof test of `interlock plan`, {why}",
            mark=Mark.COMPUTED,
        )
    return trail.note(
        f"{name}: proof-test interval with what the test misses",
        "c * T1 + (1 - c) * T2",
        {"c": share, "T1": element.proof_test_h, "T2": element.lifetime_h},
        interval_with_imperfect_test_h(element.proof_test_h, share, element.lifetime_h),
        unit="h",
        source=f"{_ANNEX}, B.3.2.5; coverage by {element.source}",
        mark=Mark.FROM_MEMORY,
    )


def found_by_plan(element: Element, revealed: Mapping[str, bool]) -> tuple[float, str]:
    """The share of the element's undetected failures that the derived test shows at the least, and why.

    All if it shows each fault of the devices; else by `fault_shares`, where what no share names counts as not
    found; without shares nothing, since the failures may be of those faults alone that it does not show.
    """
    known = {fault: shown for fault, shown in revealed.items() if fault.partition(".")[0] in element.devices}
    dark = [fault for fault, shown in known.items() if not shown]
    if known and not dark:
        return 1.0, f"it shows every fault of {', '.join(element.devices)}"
    if element.fault_shares is not None:
        shown = {fault: share for fault, share in element.fault_shares.items() if known.get(fault) is True}
        told = " + ".join(f"{share:g} for {fault}" for fault, share in shown.items()) or "none that it shows"
        return float(sum(map(as_written, shown.values()), Fraction(0))), told
    if not known:
        return 0.0, f"no fault of {', '.join(element.devices)} is known"
    return 0.0, f"it does not show {', '.join(dark)}: state fault_shares"
