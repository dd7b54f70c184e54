"""Hypothesis without a time limit an example: the laws hold on a busy machine too."""

from hypothesis import settings

settings.register_profile("no_deadline", deadline=None)
settings.load_profile("no_deadline")
