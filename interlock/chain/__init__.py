"""The chain as built, proved against what is required of it."""

from interlock.chain.check import STATE_LIMIT, check
from interlock.chain.clearing_result import Cleared, Clearing, Pairs
from interlock.chain.fault_check import MOST_FAULTS, judge_faults
from interlock.chain.fault_list import Excluded
from interlock.chain.fault_result import CategoryResult, FaultReport, FaultResult, FaultSearch
from interlock.chain.loops import load_without_loops
from interlock.chain.result import CheckResult, PropertyResult, Witness, check_schema
from interlock.chain.story import Course, Part, Signal, Story
from interlock.chain.words import Act

__all__ = [
    "MOST_FAULTS",
    "STATE_LIMIT",
    "Act",
    "CategoryResult",
    "CheckResult",
    "Cleared",
    "Clearing",
    "Course",
    "Excluded",
    "FaultReport",
    "FaultResult",
    "FaultSearch",
    "Pairs",
    "Part",
    "PropertyResult",
    "Signal",
    "Story",
    "Witness",
    "check",
    "check_schema",
    "judge_faults",
    "load_without_loops",
]
