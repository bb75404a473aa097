"""What one press of "undo" takes back: the newest decision that stands, answers spoken during the exam included."""

from __future__ import annotations

from dictate.review import Decision, last_to_undo
from dictate.review.spoken import spoken_decisions
from dictate.store import Working


def newest(working: Working) -> Decision | None:
    """The decision that an undo would take back; None where there is nothing."""
    return last_to_undo((*spoken_decisions(working.base), *(d.decision for d in working.decisions)))
