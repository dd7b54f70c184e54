"""Prove, measure and document the safety chain of a motor test bench."""

from typing import Final

__all__ = ["__version__"]

__version__: Final = "0.1.0"
