"""Proof-test procedures: derived from the chain, written and read as files."""

from interlock.procedure.derive import derive
from interlock.procedure.load import load_procedure, parse_procedure
from interlock.procedure.models import Procedure, procedure_schema
from interlock.procedure.plan import Dark, Plan, PlanStep, plan_schema
from interlock.procedure.write import as_yaml, procedure_of

__all__ = [
    "Dark",
    "Plan",
    "PlanStep",
    "Procedure",
    "as_yaml",
    "derive",
    "load_procedure",
    "parse_procedure",
    "plan_schema",
    "procedure_of",
    "procedure_schema",
]
