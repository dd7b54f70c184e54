"""The calendar file against RFC 5545, read by a small reader of its own: lines, folding, text, required properties."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.register.calendar import as_calendar
from interlock.register.due import Due
from interlock.verdict import Verdict

TODAY, MADE = date(2026, 6, 1), datetime(2026, 6, 1, 7, 8, 9, tzinfo=UTC)


def item(**changes) -> Due:
    values = {
        "bench": "cell_4",
        "kind": "proof_test",
        "subject": "hood_stop",
        "due": date(2027, 3, 31),
        "verdict": Verdict.PASS,
        "sentence": "hood_stop: passed on 2026-03-31; next by 2027-03-31, 12 months later",
        "source": "bench description",
    }
    return Due(**{**values, **changes})


def unfolded(data: bytes) -> list[str]:
    """Content lines (RFC 5545, 3.1): CRLF after each, a line break before a blank is none."""
    assert data.endswith(b"\r\n")
    assert data.count(b"\n") == data.count(b"\r") == data.count(b"\r\n")
    physical = data.split(b"\r\n")[:-1]
    assert all(0 < len(line) <= 75 for line in physical)
    for line in physical:
        line.decode()  # no character is cut in two
    return data.replace(b"\r\n ", b"").decode().split("\r\n")[:-1]


def text_of(value: str) -> str:
    """A value of type TEXT (3.3.11) as it was before it was written."""
    out, at = "", 0
    while at < len(value):
        if value[at] == "\\":
            assert value[at + 1] in "\\;,nN"
            out += {"n": "\n", "N": "\n"}.get(value[at + 1], value[at + 1])
            at += 2
        else:
            assert value[at] not in ";,"
            out += value[at]
            at += 1
    return out


def events(data: bytes) -> list[dict[str, str]]:
    lines = unfolded(data)
    assert (lines[0], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert "VERSION:2.0" in lines  # 3.6: PRODID and VERSION are required
    assert any(line.startswith("PRODID:") for line in lines)
    found: list[dict[str, str]] = []
    for line in lines[1:-1]:
        key, _, value = line.partition(":")
        if line == "BEGIN:VEVENT":
            found.append({})
        elif found:
            found[-1][key] = value
    return found


def written(*items: Due) -> list[dict[str, str]]:
    return events(as_calendar(items, today=TODAY, made_at=MADE))


def test_one_event_for_each_item_with_what_is_required() -> None:
    """3.6.1: UID and DTSTAMP are required, DTSTART without METHOD too; a date alone is one day."""
    (event,) = written(item())
    assert event["DTSTART;VALUE=DATE"] == "20270331"
    assert event["DTSTAMP"] == "20260601T070809Z"
    assert event["UID"] == "proof_test-hood_stop-cell_4@interlock"
    assert text_of(event["SUMMARY"]) == "cell_4: proof test hood_stop"
    assert text_of(event["DESCRIPTION"]) == f"{item().sentence} [bench description]"
    assert event["END"] == "VEVENT"


def test_what_is_due_at_once_stands_on_today() -> None:
    (event,) = written(item(due=None, verdict=Verdict.FAIL))
    assert event["DTSTART;VALUE=DATE"] == "20260601"


def test_what_cannot_be_said_says_so() -> None:
    (event,) = written(item(verdict=Verdict.INCONCLUSIVE))
    assert "not sure" in event["SUMMARY"]


def test_nothing_due_is_still_a_calendar() -> None:
    assert written() == []


def test_the_name_of_an_event_stays_when_its_day_moves() -> None:
    first, second = written(item()), written(item(due=date(2028, 1, 1), sentence="other"))
    assert first[0]["UID"] == second[0]["UID"]


def test_names_are_kept_apart() -> None:
    names = [("a_b", "c"), ("a", "b_c"), ("a-b", "c"), ("a", "b-c"), ("ä", "c"), ("Ã¤", "c"), (".e4.", "c")]
    found = written(*(item(subject=subject, bench=bench) for subject, bench in names))
    assert len({event["UID"] for event in found}) == len(names)


def test_same_input_same_bytes() -> None:
    assert as_calendar([item()], today=TODAY, made_at=MADE) == as_calendar(
        [item()], today=TODAY, made_at=MADE
    )


@given(st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), min_size=1, max_size=300))
def test_any_text_comes_back(text) -> None:
    (event,) = written(item(sentence=text, source=""))
    assert text_of(event["DESCRIPTION"]) == text


@pytest.mark.parametrize("length", range(50, 90))
def test_lines_are_folded_by_octets_not_characters(length) -> None:
    (event,) = written(item(sentence="ü" * length, source=""))
    assert event["DESCRIPTION"] == "ü" * length


def test_a_part_that_is_due_by_its_counts_and_in_its_channel_is_two_events():
    """RFC 5545, 3.8.4.7: a UID is unique; of two events with one UID a calendar keeps the later one."""
    items = [item(kind="replacement", subject="contactor", due=date(2030, month, 1)) for month in (3, 9)]
    lines = unfolded(as_calendar(items, today=TODAY, made_at=MADE))
    names = [line.removeprefix("UID:") for line in lines if line.startswith("UID:")]
    assert len(set(names)) == len(names) == 2
    alone = unfolded(as_calendar(items[:1], today=TODAY, made_at=MADE))
    assert f"UID:{names[0]}" in alone  # the name of the first does not depend on the second
