"""Each topic has its place in both editions, and a 2023 clause says that it is from memory."""

import pytest

from interlock.rating.iso13849_clauses import clause


@pytest.mark.parametrize(
    ("topic", "place"),
    [  # AS 4024.1503 (adopts ISO 13849-1:2006); same numbers in 2015, where seen
        ("operations", "C.4.2, formula C.2"),
        ("mttfd", "C.4.2, formula C.1"),
        ("t10d", "C.4.2, formula C.3"),
        ("series", "D.1, formula D.1"),
        ("symmetrised", "D.2, formula D.2"),
        ("dc", "E.2, formula E.1"),
        ("ccf", "Table F.1"),
        ("table", "Table K.1"),
        ("level", "Table 3"),
        ("risk_graph", "Figure A.1"),
    ],
)
def test_places_of_2015(topic, place) -> None:
    assert clause(2015, topic) == f"ISO 13849-1:2015, {place}"


@pytest.mark.parametrize("topic", ["operations", "table", "combine", "mission", "category"])
def test_places_of_2023_are_marked(topic) -> None:
    assert clause(2023, topic).startswith("ISO 13849-1:2023, ")
    assert clause(2023, topic).endswith("(clause from memory)")
