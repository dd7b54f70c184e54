"""The command `interlock`: its verbs, and the one place where an error becomes a message and an exit code."""

import json
import os
import sys
from importlib import import_module
from typing import Any, Final

import click

from interlock import __version__
from interlock.errors import BenchError, InterlockError

__all__ = ["cli", "main"]

_VERBS: Final = {
    "demo": "The whole job on the built-in bench.",
    "look": "Tell what is in a log, and draft a bench description.",
    "check": "Prove the chain of a bench in every state.",
    "plan": "Derive the proof test of a bench.",
    "replay": "Judge recorded logs of one run.",
    "rate": "Rate the functions by the published standards.",
    "report": "Write the report of a bench and its logs.",
    "sign": "Sign a report.",
    "verify": "Tell whether a signed report still holds.",
    "register": "Keep past tests, counts and replacements, hash-chained.",
    "due": "Tell which tests and replacements are due when.",
}


class _Verbs(click.Group):
    """Loads a verb only when it is asked for, so that each one starts fast."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _VERBS:
            return None
        command: click.Command = import_module(f"interlock.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Verbs"):
            formatter.write_dl(list(_VERBS.items()))


@click.group(cls=_Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="interlock %(version)s")
def cli() -> None:
    """Prove, measure and document the safety chain of a motor test bench.

    Exit codes: 0 all that was asked holds; 1 something fails; 2 bad usage or bad input; 3 inconclusive or
    not observed. Every verb takes --json.
    """


def main() -> None:
    """Entry point: never lets a traceback reach the user (set INTERLOCK_DEBUG=1 to see one)."""
    try:
        code = cli.main(standalone_mode=False)
    except click.exceptions.Exit as asked:
        code = asked.exit_code
    except click.ClickException as error:
        error.show()
        code = 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("interlock: stopped by the user; no verdict", err=True)
        code = 2
    except InterlockError as error:
        _say(error)
        code = 2
    except SystemExit:  # click's own way, with the code of a verdict, when nobody reads on
        code = 2
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 2
    except OSError as error:
        if os.environ.get("INTERLOCK_DEBUG"):
            raise
        click.echo(f"interlock: {_where(error)}: {error.strerror or error}; no verdict", err=True)
        code = 2
    except Exception as error:
        if os.environ.get("INTERLOCK_DEBUG"):
            raise
        click.echo(
            f"interlock: unforeseen {type(error).__name__}: {error}; no verdict. Please report it.", err=True
        )
        code = 2
    sys.exit(code if isinstance(code, int) else 0)


def _where(error: OSError) -> str:
    """Which file it is about; of an output without a name it is the standard one."""
    return "the output" if error.filename is None else str(error.filename)


def _say(error: InterlockError) -> None:
    if "--json" in sys.argv:
        problems = error.problems if isinstance(error, BenchError) else ()
        document: dict[str, Any] = {
            "schema": "interlock error 1",
            "message": str(error),
            "problems": [
                {name: getattr(one, name) for name in ("file", "line", "column", "what", "why", "instead")}
                for one in problems
            ],
        }
        click.echo(json.dumps(document, ensure_ascii=False, indent=1))
    click.echo(f"interlock: {error}" if not isinstance(error, BenchError) else str(error), err=True)
