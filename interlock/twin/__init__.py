"""The simulated bench: plant, safety chain, CAN nodes, defects that can be switched on, and the truth beside."""

from interlock.twin.acts import Act, Deed, Scenario, humanly
from interlock.twin.bench import TwinBench
from interlock.twin.defects import Defect, Flaw
from interlock.twin.record import EPOCH_S, Run, run
from interlock.twin.stuck import BusyStart, Fault, Joined, Refused, Stuck
from interlock.twin.truth import DemandTruth, Truth
from interlock.twin.walk import proof_test
from interlock.twin.write import write

__all__ = [
    "EPOCH_S",
    "Act",
    "BusyStart",
    "Deed",
    "Defect",
    "DemandTruth",
    "Fault",
    "Flaw",
    "Joined",
    "Refused",
    "Run",
    "Scenario",
    "Stuck",
    "Truth",
    "TwinBench",
    "humanly",
    "proof_test",
    "run",
    "write",
]
