"""The command line: one file a verb; parsing and printing only."""

from interlock.cli.app import main

__all__ = ["main"]
