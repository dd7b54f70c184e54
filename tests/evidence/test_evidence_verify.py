"""Verification: what holds passes, every change is refused, and nobody is taken for somebody."""

import asyncio
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from evidence_forge import append, issued
from evidence_material import MADE_AT
from hypothesis import given, settings
from hypothesis import strategies as st
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

from interlock.errors import EvidenceError
from interlock.evidence.check import check_signed
from interlock.evidence.keys import ReportSigner
from interlock.evidence.refusal import Refused
from interlock.evidence.verification import Identity
from interlock.evidence.verify import verify_report
from interlock.verdict import EXIT_CODE, Verdict

Put = Callable[[bytes], Path]
NOW = MADE_AT + timedelta(hours=2)


def refusal(data: bytes) -> str:
    """Why the bytes are refused; fails the test if they are not."""
    with pytest.raises(Refused) as caught:
        check_signed(data)
    return str(caught.value)


# what holds


def test_a_demo_report_passes_and_says_loudly_that_it_proves_no_identity(signed_once: Path) -> None:
    got = verify_report(signed_once, now=NOW)
    assert EXIT_CODE[got.verdict] == 0
    assert got.is_demo
    assert any("DEMO KEY" in reason and "not evidence" in reason for reason in got.reasons)


def test_both_signers_are_named_in_order_with_their_claims(signed_twice: Path) -> None:
    first, second = verify_report(signed_twice, now=NOW).signers
    assert (first.role, first.name, first.reason) == ("tester", "Tess Tester", "tested by me")
    assert (second.role, second.name, second.reason) == ("safety_officer", "Otto Officer", "read by me")
    assert second.claimed_time == MADE_AT + timedelta(hours=1)
    assert {first.identity, second.identity} == {Identity.DEMO}


def test_without_its_last_revision_the_file_is_the_one_signed_once(
    signed_once: Path, signed_twice: Path, put: Put
) -> None:
    """A signature that was taken off leaves no trace: hence the caution, and the list of signers."""
    cut = put(signed_twice.read_bytes()[: signed_once.stat().st_size])
    assert [signer.role for signer in verify_report(cut, now=NOW).signers] == ["tester"]


def test_the_clock_of_the_machine_is_used_if_none_is_given(signed_once: Path) -> None:
    assert verify_report(signed_once).verdict is Verdict.PASS


def test_checking_within_an_event_loop_is_a_programming_error_not_a_verdict(signed_once: Path) -> None:
    async def inside() -> None:
        verify_report(signed_once, now=NOW)

    with pytest.raises(RuntimeError, match="event loop"):
        asyncio.run(inside())


def test_a_file_that_cannot_be_read_has_no_verdict(tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="cannot read"):
        verify_report(tmp_path / "missing.pdf", now=NOW)


# changed bytes


@pytest.mark.parametrize(("which", "step"), [("signed_once", 50), ("signed_twice", 211)])
def test_one_flipped_bit_at_any_sampled_position_is_refused(
    which: str, step: int, request: pytest.FixtureRequest
) -> None:
    """Every 50th position of the file, the bits in turn."""
    data = request.getfixturevalue(which).read_bytes()
    for number, position in enumerate(range(0, len(data), step)):
        changed = bytearray(data)
        changed[position] ^= 1 << number % 8
        refusal(bytes(changed))


def test_every_byte_of_the_last_signatures_value_matters(signed_once: Path) -> None:
    """The one stretch that no signature covers: each digit, its letter case, and the padding."""
    data = signed_once.read_bytes()
    start = data.index(b"/Contents <") + 10
    end = data.index(b">", start) + 1
    padding_from = data.index(b"0" * 400, start)
    for position in [*range(start, padding_from, 17), *range(padding_from, end, 397), end - 2, end - 1]:
        for mask in (0x01, 0x20):
            changed = bytearray(data)
            changed[position] ^= mask
            refusal(bytes(changed))


def test_the_letter_case_of_a_digit_is_a_changed_byte(signed_once: Path) -> None:
    data = signed_once.read_bytes()
    position = data.index(b"/Contents <") + 12
    while not data[position : position + 1].isalpha():
        position += 1
    changed = data[:position] + data[position : position + 1].lower() + data[position + 1 :]
    assert "another way" in refusal(changed)


@pytest.mark.parametrize(
    "tail", [b"\n", b" ", b"\0", b"%", b"%%EOF\n", b"1 0 obj\nnull\nendobj\n", b"x" * 5000]
)
def test_appended_bytes_are_refused(signed_twice: Path, tail: bytes) -> None:
    refusal(signed_twice.read_bytes() + tail)


@pytest.mark.parametrize("lead", [b"\n", b"\0", b"\xef\xbb\xbf", b"MZ" + b"\0" * 60])
def test_bytes_before_the_header_are_refused(signed_once: Path, lead: bytes) -> None:
    assert "begin" in refusal(lead + signed_once.read_bytes())


def test_a_truncated_file_is_refused(signed_twice: Path, signed_once: Path) -> None:
    data = signed_twice.read_bytes()
    whole = {len(data), signed_once.stat().st_size}
    lengths = [*range(0, len(data), 997), len(data) - 1, len(data) - 2, len(data) - 6]
    for length in lengths:
        if length not in whole:
            refusal(data[:length])


def test_an_inserted_or_dropped_byte_is_refused(signed_once: Path) -> None:
    data = signed_once.read_bytes()
    for position in range(0, len(data), 1999):
        refusal(data[:position] + b" " + data[position:])
        refusal(data[:position] + data[position + 1 :])


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_change_at_all_is_refused(signed_twice: Path, data: st.DataObject) -> None:
    whole = signed_twice.read_bytes()
    start = data.draw(st.integers(0, len(whole)))
    length = data.draw(st.integers(0, 40))
    new = data.draw(st.binary(max_size=40))
    changed = whole[:start] + new + whole[start + length :]
    if changed != whole and changed != whole[: len(changed)]:
        refusal(changed)


@given(st.binary(max_size=300))
def test_garbage_is_refused_and_never_raises_anything_else(junk: bytes) -> None:
    refusal(junk)
    refusal(b"%PDF-1.7\n" + junk)
    refusal(b"%PDF-1.7\n" + junk + b"/ByteRange [0 20 40 60]\nstartxref\n0\n%%EOF\n")


# other writers


def test_an_empty_file_and_an_unsigned_report_are_refused(demo: Path) -> None:
    assert "empty" in refusal(b"")
    assert "no signature" in refusal(demo.read_bytes())


def test_a_pdf_of_another_make_is_refused(put: Put) -> None:
    out = BytesIO()
    pdf = pikepdf.new()
    pdf.add_blank_page()
    pdf.save(out)
    assert verify_report(put(out.getvalue()), now=NOW).verdict is Verdict.FAIL


@pytest.mark.parametrize("options", [{}, {"linearize": True}, {"object_stream_mode": 2}])
def test_a_file_saved_anew_is_refused(signed_once: Path, put: Put, options: dict[str, object]) -> None:
    """By pikepdf (QPDF), which keeps the content and loses the signed bytes."""
    out = BytesIO()
    with pikepdf.open(signed_once) as pdf:
        pdf.save(out, **options)
    got = verify_report(put(out.getvalue()), now=NOW)
    assert got.verdict is Verdict.FAIL
    assert not got.signers


def _retitle(writer: IncrementalPdfFileWriter) -> None:
    info = writer.trailer["/Info"]
    info["/Title"] = generic.pdf_string("Safety chain of another bench")
    writer.update_container(info)


def _overwrite_page(writer: IncrementalPdfFileWriter) -> None:
    stream = generic.StreamObject(stream_data=b"0 0 1 rg 0 0 500 500 re f")
    page, _ = writer.find_page_for_modification(0)
    page.get_object()["/Contents"] = writer.add_object(stream)
    writer.mark_update(page)


def _act_on_opening(writer: IncrementalPdfFileWriter) -> None:
    action = {"/S": generic.pdf_name("/Named"), "/N": generic.pdf_name("/LastPage")}
    writer.root[generic.pdf_name("/OpenAction")] = generic.DictionaryObject(
        {generic.pdf_name(key): value for key, value in action.items()}
    )
    writer.update_root()


def _loose_object(writer: IncrementalPdfFileWriter) -> None:
    writer.add_object(generic.pdf_string("hidden"))


def _metadata(writer: IncrementalPdfFileWriter) -> None:
    writer.root[generic.pdf_name("/Metadata")] = writer.add_object(
        generic.StreamObject(stream_data=b"<x:xmpmeta/>")
    )
    writer.update_root()


def _appearances(writer: IncrementalPdfFileWriter) -> None:
    reference = writer.root.raw_get("/AcroForm")
    form = writer.get_object(reference.reference)
    form[generic.pdf_name("/NeedAppearances")] = generic.BooleanObject(True)
    writer.objects[(reference.generation, reference.idnum)] = form


def _own_field(name: str) -> Callable[[IncrementalPdfFileWriter], None]:
    def change(writer: IncrementalPdfFileWriter) -> None:
        field = writer.root["/AcroForm"]["/Fields"][-1]
        field[generic.pdf_name(name)] = generic.pdf_string("x")

    return change


CHANGES = [_retitle, _overwrite_page, _act_on_opening, _loose_object, _metadata, _appearances]


@pytest.mark.parametrize("change", CHANGES)
def test_an_added_revision_is_refused(
    signed_once: Path, change: Callable[[IncrementalPdfFileWriter], None]
) -> None:
    writer = IncrementalPdfFileWriter(BytesIO(signed_once.read_bytes()))
    change(writer)
    out = BytesIO()
    writer.write(out)
    assert "revision" in refusal(out.getvalue())


# sound signatures over something unsound


@pytest.mark.parametrize("change", CHANGES)
def test_a_second_signer_may_add_a_signature_and_nothing_else(
    signed_once: Path, otto: ReportSigner, change: Callable[[IncrementalPdfFileWriter], None]
) -> None:
    """General verifiers accept some of these; the officer would put his words into the tester's mouth."""
    text = refusal(append(signed_once.read_bytes(), otto, change=change))
    assert "changes" in text or "cannot be validated" in text


def test_the_forger_is_believed_where_nothing_is_wrong(signed_once: Path, otto: ReportSigner) -> None:
    """So that the tests around this one fail for the reason that they name."""
    assert len(check_signed(append(signed_once.read_bytes(), otto)).signatures) == 2


def test_a_signature_that_draws_over_the_page_is_refused(signed_once: Path, otto: ReportSigner) -> None:
    assert "built" in refusal(append(signed_once.read_bytes(), otto, box=(0, 0, 500, 700)))


@pytest.mark.parametrize("name", ["/TU", "/AP", "/A", "/AA", "/Lock", "/Contents"])
def test_a_signature_field_with_more_in_it_than_a_signature_is_refused(
    signed_once: Path, otto: ReportSigner, name: str
) -> None:
    refusal(append(signed_once.read_bytes(), otto, change=_own_field(name)))


def test_the_same_key_in_two_roles_is_refused(signed_once: Path, tess: ReportSigner) -> None:
    assert "same person or key" in refusal(append(signed_once.read_bytes(), tess))


def test_the_same_name_with_another_key_is_refused(signed_once: Path) -> None:
    from interlock.evidence.keys import make_demo_signer

    twin = make_demo_signer("Tess Tester", now=MADE_AT)
    assert "same person or key" in refusal(append(signed_once.read_bytes(), twin))


@pytest.mark.parametrize("field", ["Signature1", "witness", "Tester"])
def test_another_role_is_refused(signed_once: Path, otto: ReportSigner, field: str) -> None:
    assert "built" in refusal(append(signed_once.read_bytes(), otto, field=field))


def test_the_safety_officer_signs_last(demo: Path, tess: ReportSigner, otto: ReportSigner) -> None:
    first = append(demo.read_bytes(), otto, field="safety_officer")
    assert len(check_signed(first).signatures) == 1
    assert "last" in refusal(append(first, tess, field="tester"))


def test_a_demo_key_on_pages_without_the_demo_line_is_refused(plain: Path, tess: ReportSigner) -> None:
    assert "demo" in refusal(append(plain.read_bytes(), tess, field="tester"))


def test_a_real_key_on_a_demo_report_is_refused(demo: Path) -> None:
    assert "demo" in refusal(append(demo.read_bytes(), issued("Ann"), field="tester"))


def test_a_signed_pdf_that_is_no_report_is_refused(tess: ReportSigner) -> None:
    from reportlab.pdfgen.canvas import Canvas

    out = BytesIO()
    canvas = Canvas(out, pdfVersion=(1, 7))
    canvas.drawString(72, 700, "verdict: pass")
    canvas.save()
    assert "not a report" in refusal(append(out.getvalue(), tess, field="tester"))
