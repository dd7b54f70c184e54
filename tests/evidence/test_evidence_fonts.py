"""Typefaces: full coverage of the letters that a bench needs, and nothing dropped or disguised."""

import unicodedata
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

import interlock.evidence.fonts as fonts_module
from interlock.evidence.fonts import HEAD, TEXT, fit, markup, register, visible, width


@pytest.mark.parametrize("letter", "µμ·≤≥äöüßÄéΩ²³°±×→…–—“”ŁžЖλ")
def test_the_text_face_has_the_letters_of_units_and_european_names(letter: str) -> None:
    assert visible(letter) == unicodedata.normalize("NFC", letter)


def test_the_face_is_shipped_with_its_licence() -> None:
    folder = Path(fonts_module.__file__).parent / "fonts"
    assert (folder / "DejaVuSansCondensed.ttf").stat().st_size > 500_000
    licence = (folder / "LICENSE.txt").read_text("utf-8")
    assert "Permission is hereby granted, free of charge" in licence
    assert "DejaVu changes are in public domain" in licence


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("漢", "[U+6F22]"),
        ("a\u202eb", "a[U+202E]b"),  # right-to-left override: would turn the rest of the line round
        ("a\u200bb", "a[U+200B]b"),  # zero width space: two names that look alike
        ("\ufeff", "[U+FEFF]"),
        ("a\x00b\x1b", "a[U+0000]b[U+001B]"),
        ("\ud800", "[U+D800]"),
        ("שלום", "[U+05E9][U+05DC][U+05D5][U+05DD]"),
        ("a\nb", "a[U+000A]b"),
        ("u\u0308", "ü"),  # NFC
    ],
)
def test_what_would_not_show_is_spelled(text: str, shown: str) -> None:
    assert visible(text) == shown


def test_lines_are_kept_where_asked_for() -> None:
    assert visible("a\nb", keep_lines=True) == "a\nb"
    assert markup("a\nb", keep_lines=True) == "a<br/>b"


@given(st.text())
def test_every_printed_character_has_a_glyph(text: str) -> None:
    glyphs = register().face.charToGlyph
    assert all(ord(char) in glyphs for char in visible(text))


@given(st.text())
def test_texts_that_differ_never_print_alike(text: str) -> None:
    """But for what NFC says is the same, and for a text that spells such a code itself."""
    other = text + "\u200b"
    assert visible(other) != visible(text)


@given(st.text())
def test_markup_reads_back_as_the_visible_text(text: str) -> None:
    """Read by the standard library's XML parser."""
    parsed = "".join(ElementTree.fromstring(f"<p>{markup(text)}</p>").itertext())  # noqa: S314 - our own text
    assert parsed.replace("\N{NO-BREAK SPACE}", " ") == visible(text).replace("\N{NO-BREAK SPACE}", " ")


@given(st.text(max_size=200), st.floats(5, 300))
def test_what_is_fitted_is_never_wider_than_its_room(text: str, room: float) -> None:
    assert width(fit(text, room, 7), 7) <= max(room, width("…", 7))


def test_what_fits_is_left_as_it_is() -> None:
    assert fit("speed", 100, 7) == "speed"
    assert fit("speed " * 40, 100, 7).endswith("…")


def test_widths_are_those_of_the_face() -> None:
    assert width("mm", 10) == pytest.approx(2 * width("m", 10))
    assert width("pass", 10, HEAD) > width("pass", 10, TEXT)
