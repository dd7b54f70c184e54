"""The cap on coverage that `rate` takes from guards in series, by the layout that the bench states (ISO/TR 24119)."""

import pytest
from test_evidence_chain_shown import facts, section, shape

RARE = tuple(
    (f"name: {one} door", f"opened: rarely, name: {one} door") for one in ("first", "second", "third")
)
FULL = (
    "people: one, open_together: never, cabling: star, protected: true, signals: pulsed, switching: identical"
)


def laid_out(entries: str) -> tuple[tuple[str, str], ...]:
    return (*RARE, ("name: safety relay", f"name: safety relay, series: {{{entries}}}"))


@pytest.mark.parametrize(
    ("changes", "dc"),
    [
        (
            RARE,
            "low",
        ),  # of people nothing is said: one more guard counts as opened hourly (note, from memory)
        (laid_out(FULL), "medium"),  # Table 1: none hourly, three others
        (laid_out(f"{FULL}, regular: {{coverage: low, source: own copy}}"), "low"),
        (laid_out(f"{FULL}, regular: {{coverage: high, source: own copy}}"), "medium"),  # our own bound
        (laid_out("people: one, open_together: in_normal_work"), "none"),
    ],
    ids=["unsaid", "simplified", "regular low", "regular high", "open together"],
)
def test_the_layout_limits_what_the_rating_may_claim(tmp_path, changes, dc: str) -> None:
    masked = facts(shape(tmp_path, "three_doors", *changes), section("door_1_stop")).masked
    assert {guard: found for guard, (found, _) in masked.items()} == dict.fromkeys(
        ("door_1", "door_2", "door_3"), dc
    )
    assert all(f"for their contacts: {dc}." in why for _, why in masked.values())
