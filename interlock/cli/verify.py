"""`interlock verify REPORT`: does a signed report still hold, and who is said to have signed it?"""

from pathlib import Path

import click
from rich.text import Text

from interlock.cli.common import as_json_option, caution, console, finish, print_json, said

__all__ = ["command"]


@click.command(name="verify")
@click.argument("report", type=click.Path(path_type=Path))
@click.option(
    "--trust",
    multiple=True,
    metavar="CERT",
    help="Certificate file (PEM or DER) or SHA-256 of a certificate that you trust; may be repeated.",
)
@as_json_option
def command(report: Path, *, trust: tuple[str, ...], as_json: bool) -> None:
    """Tell whether every byte of REPORT is covered by its signatures and unchanged, and who signed."""
    from interlock.evidence import load_trust, verify_report

    verification = verify_report(report, trusted=load_trust(trust) if trust else None)
    if as_json:
        print_json(verification.as_json())
    else:
        page = console()
        page.print(f"{report}: SHA-256 {verification.sha256}", soft_wrap=True)
        for signer in verification.signers:
            role, claimed = signer.role.replace("_", " "), signer.claimed_time
            when = (
                "at no stated time" if claimed is None else f"at {claimed.isoformat()} by the signer's clock"
            )
            page.print(f"  signed as {role} by {signer.name}, {when}", soft_wrap=True)
            page.print(
                f"  certificate SHA-256 {signer.certificate_sha256}: {str(signer.identity).replace('_', ' ')}",
                soft_wrap=True,
            )
        for reason in verification.reasons:
            page.print(f"  - {reason}", soft_wrap=True)
        page.print(Text.assemble("Verdict: ", said(verification.verdict)))
        caution(page)
    finish(verification.verdict)
