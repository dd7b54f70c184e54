"""`interlock sign REPORT`: one signature by one person in one role."""

import os
from pathlib import Path

import click

from interlock.cli.common import as_json_option, console, instant, print_json, refuse_input
from interlock.errors import EvidenceError

__all__ = ["command"]


@click.command(name="sign")
@click.argument("report", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), help="The signed PDF; the report itself if not given."
)
@click.option(
    "--role", required=True, type=click.Choice(["tester", "safety_officer"]), help="Who signs, as what."
)
@click.option(
    "--key", type=click.Path(path_type=Path), help="PKCS#12 file with the signer's key and certificate."
)
@click.option(
    "--passphrase-file", type=click.Path(path_type=Path), help="File whose first line opens the key."
)
@click.option("--passphrase-env", metavar="NAME", help="Environment variable that opens the key.")
@click.option(
    "--demo-key", metavar="NAME", help="Make a key on the spot in this name; it proves no identity."
)
@click.option("--reason", default="", help="Why it is signed; stands in the signature.")
@click.option("--at", metavar="TIME", help="Time of signing (2026-01-31T14:05:00Z); now if not given.")
@as_json_option
def command(
    report: Path,
    *,
    out: Path | None,
    role: str,
    key: Path | None,
    passphrase_file: Path | None,
    passphrase_env: str | None,
    demo_key: str | None,
    reason: str,
    at: str | None,
    as_json: bool,
) -> None:
    """Sign REPORT; without a passphrase option the passphrase of --key is asked for."""
    from interlock.evidence.keys import load_signer, make_demo_signer
    from interlock.evidence.sign import Role, sign_report

    if (key is None) == (demo_key is None):
        raise click.UsageError("sign either with --key FILE or with --demo-key NAME")
    if demo_key is not None and (passphrase_file is not None or passphrase_env is not None):
        raise click.UsageError("a passphrase belongs to --key FILE; leave it out with --demo-key")
    now, target = instant(at), out or report
    refuse_input(target, key, passphrase_file)
    if key is not None:
        signer = load_signer(key, _passphrase(passphrase_file, passphrase_env))
    else:
        signer = make_demo_signer(str(demo_key), now=now)
    said = reason or f"signed as {role.replace('_', ' ')}"
    sign_report(report, target, signer, reason=said, role=Role(role), now=now)
    if as_json:
        print_json(
            {"schema": "interlock sign 1", "report": str(target), "role": role, "is_demo": signer.is_demo}
        )
        return
    page = console()
    page.print(f"{target}: signed as {role.replace('_', ' ')}", soft_wrap=True)
    if signer.is_demo:
        page.print("The key is a demo key: it shows that the file is unchanged, not who signed.")


def _passphrase(file: Path | None, variable: str | None) -> bytes:
    if file is not None and variable is not None:
        raise click.UsageError("give the passphrase by --passphrase-file or by --passphrase-env, not both")
    if file is not None:
        try:
            return file.read_bytes().split(b"\n", 1)[0].rstrip(b"\r")
        except OSError as error:
            raise EvidenceError(
                f"{file}: cannot be read ({error.strerror}); name the passphrase's file"
            ) from error
    if variable is not None:
        if variable not in os.environ:
            raise click.UsageError(f"the environment has no variable '{variable}'")
        return os.environ[variable].encode()
    asked: str = click.prompt("Passphrase", hide_input=True, err=True)
    return asked.encode()
