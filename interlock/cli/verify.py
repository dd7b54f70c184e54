"""`interlock verify REPORT LOG...`: does a signed report still hold, who signed it, and are these its logs?"""

from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.console import Console
from rich.text import Text

from interlock.cli.common import as_json_option, caution, console, finish, print_json, said
from interlock.verdict import Verdict, worst

if TYPE_CHECKING:
    from interlock.evidence.compared import Compared, Comparison

__all__ = ["command"]


@click.command(name="verify")
@click.argument("report", type=click.Path(path_type=Path))
@click.argument("logs", nargs=-1, type=click.Path(path_type=Path), metavar="[LOG...]")
@click.option(
    "--trust",
    multiple=True,
    metavar="CERT",
    help="Certificate file (PEM or DER) or SHA-256 of a certificate that you trust; may be repeated.",
)
@as_json_option
def command(report: Path, logs: tuple[Path, ...], *, trust: tuple[str, ...], as_json: bool) -> None:
    """Tell whether every byte of REPORT is covered by its signatures and unchanged, and who signed.

    Each LOG, or other file that went into the report, is compared with it by its SHA-256. Exit code 1 if one is
    not the file of the report; 3 if logs are given and one that the report names is not among them.
    """
    from interlock.evidence.identity import load_trust
    from interlock.evidence.verify import verify_report

    verification = verify_report(report, trusted=load_trust(trust) if trust else None)
    compared = None
    if logs and verification.verdict is not Verdict.FAIL:
        from interlock.evidence.compared import compare_files

        compared = compare_files(report, logs)
    verdict = verification.verdict if compared is None else worst([verification.verdict, compared.verdict])
    if as_json:
        more = {} if compared is None else compared.as_json()
        print_json({**verification.as_json(), **more, "verdict": str(verdict)})
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
        if compared is not None:
            _show(page, compared)
        elif logs:
            page.print("The logs were not compared: the report itself does not hold.")
        page.print(Text.assemble("Verdict: ", said(verdict)))
        caution(page)
    finish(verdict)


def _show(page: Console, compared: "Comparison") -> None:
    page.print("Files compared with the SHA-256 sums in the report:")
    for one in compared.files:
        page.print(f"  {one.file}: {one.match}{_more(one)}", soft_wrap=True)
    for missing in compared.not_given:
        page.print(
            f"  {missing.path} ({missing.role}): in the report, not given, so not compared; its SHA-256 is "
            f"{missing.sha256}",
            soft_wrap=True,
        )


def _more(one: "Compared") -> str:
    if one.listed is None:
        return f": no input of the report has its name or its SHA-256 {one.sha256}"
    named = f"{one.listed.path} ({one.listed.role})"
    if one.sha256 == one.listed.sha256:
        return f", where it is {named}; SHA-256 {one.sha256}"
    return f" from {named}: its SHA-256 is {one.sha256}, the report has {one.listed.sha256}"
