"""The chain as built, proved against what is required of it."""

from interlock.chain.check import STATE_LIMIT, check
from interlock.chain.result import CheckResult, PropertyResult, Witness, check_schema
from interlock.chain.words import Act

__all__ = ["STATE_LIMIT", "Act", "CheckResult", "PropertyResult", "Witness", "check", "check_schema"]
