"""What is in a log, and a first draft of a bench description from it."""

from interlock.look.document import document, look_schema
from interlock.look.draft import draft
from interlock.look.look import look, look_by_bench
from interlock.look.seen import Look
from interlock.look.write_new import refuse_old, write_new

__all__ = ["Look", "document", "draft", "look", "look_by_bench", "look_schema", "refuse_old", "write_new"]
