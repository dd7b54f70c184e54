"""Where each step stands in the two editions of ISO 13849-1, as printed beside the step."""

from typing import Final, Literal

__all__ = ["Edition", "clause"]

Edition = Literal[2015, 2023]
_MEMORY: Final = " (clause from memory)"
_PLACES: Final = {  # topic: 2015, 2023
    "operations": ("C.4.2, formula C.2", "Annex C"),
    "mttfd": ("C.4.2, formula C.1", "Annex C"),
    "t10d": ("C.4.2, formula C.3", "Annex C"),
    "typical": ("Table C.1", "Table C.1"),
    "series": ("D.1, formula D.1", "Annex D"),
    "cap": ("4.5.2", "6.1.8"),
    "symmetrised": ("D.2, formula D.2", "Annex D"),
    "dc": ("E.2, formula E.1", "Annex E"),
    "dc_class": ("Table 6", "6.1.8"),
    "ccf": ("Table F.1", "Annex F"),
    "category": ("6.2", "6.1.3"),
    "table": ("Table K.1", "Table K.1"),
    "level": ("Table 3", "6.1.2"),
    "combine": ("6.3 and Table 11", "6.2"),
    "risk_graph": ("Figure A.1", "Annex A"),
    "mission": ("4.5.4", "6.1.8"),
}


def clause(edition: Edition, topic: str) -> str:
    """'ISO 13849-1:2015, D.1, formula D.1' for an edition and a topic of the computation."""
    old, new = _PLACES[topic]
    place = old if edition == 2015 else new + _MEMORY
    return f"ISO 13849-1:{edition}, {place}"
