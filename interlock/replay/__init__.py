"""A trace judged against what the bench description requires."""

from interlock.replay.document import document, replay_schema
from interlock.replay.finding import Finding
from interlock.replay.judge import Judgement, judge_trace
from interlock.replay.replay import load_trace, replay

__all__ = ["Finding", "Judgement", "document", "judge_trace", "load_trace", "replay", "replay_schema"]
