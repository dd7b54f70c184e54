"""Why a file is refused."""

__all__ = ["Refused"]


class Refused(Exception):
    """The file breaks one of the rules; the text names the rule, in words for a safety officer.

    It never leaves this room: signing turns it into an EvidenceError, verifying into a verdict.
    """
