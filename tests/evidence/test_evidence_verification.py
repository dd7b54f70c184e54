"""The verification as JSON: what is printed fits the published schema, and the schema refuses what is not."""

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import jsonschema
import pytest
from evidence_material import MADE_AT
from hypothesis import given
from hypothesis import strategies as st

from interlock.evidence.identity import Trust
from interlock.evidence.verification import Identity, SignerReport, Verification, verification_schema
from interlock.evidence.verify import verify_report
from interlock.verdict import Verdict

NOW = MADE_AT + timedelta(hours=2)


def fits(document: object) -> None:
    jsonschema.Draft202012Validator(verification_schema()).validate(document)


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(verification_schema())


def test_each_kind_of_verdict_fits(signed_twice: Path, demo: Path) -> None:
    passed = verify_report(signed_twice, now=NOW)
    doubted = verify_report(signed_twice, trusted=Trust(), now=NOW)
    failed = verify_report(demo, now=NOW)
    assert [got.verdict for got in (passed, doubted, failed)] == [
        Verdict.PASS,
        Verdict.INCONCLUSIVE,
        Verdict.FAIL,
    ]
    for got in (passed, doubted, failed):
        fits(got.as_json())
        assert got.as_json()["cautions"]


def test_a_failed_file_names_no_signer(signed_once: Path, tmp_path: Path) -> None:
    """Whoever is named in a changed file may be a lie too."""
    path = tmp_path / "x.pdf"
    path.write_bytes(signed_once.read_bytes() + b" ")
    got = verify_report(path, now=NOW).as_json()
    assert got["signers"] == []
    got["signers"] = verify_report(signed_once, now=NOW).as_json()["signers"]
    with pytest.raises(jsonschema.ValidationError):
        fits(got)


def test_the_time_is_marked_as_a_claim(signed_once: Path) -> None:
    signer = verify_report(signed_once, now=NOW).as_json()["signers"][0]
    assert signer["time_is"] == "claimed by the signer's clock"
    assert signer["claimed_time"] == "2026-03-04T09:30:15Z"
    assert signer["is_demo"] is True


@given(
    st.text(),
    st.text(),
    st.datetimes(min_value=datetime(1970, 1, 1), max_value=datetime(2100, 1, 1)),  # noqa: DTZ001 - zone below
    st.integers(-12, 12),
    st.sampled_from(Identity),
)
def test_any_names_and_times_fit(
    name: str, reason: str, at: datetime, hours: int, identity: Identity
) -> None:
    zone = timezone(timedelta(hours=hours))
    signer = SignerReport("tester", name, "ab" * 32, at.replace(tzinfo=zone), reason, identity)
    document = Verification("p", "cd" * 32, Verdict.PASS, ("held",), (signer,)).as_json()
    fits(document)
    shown = datetime.fromisoformat(document["signers"][0]["claimed_time"])
    assert shown.astimezone(UTC) == signer.claimed_time


def test_a_verification_is_neither_true_nor_false(signed_once: Path) -> None:
    with pytest.raises(TypeError, match="verdict"):
        bool(verify_report(signed_once, now=NOW))
