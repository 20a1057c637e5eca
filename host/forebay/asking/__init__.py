"""Questions to a person who stands at a rig: typed, or from a file; what was answered is kept."""

from forebay.asking.kept import Kept, Unfinished
from forebay.asking.questions import (
    Answers,
    AskedError,
    Choice,
    Done,
    Filed,
    Left,
    Quantity,
    Question,
    Skipped,
    Typed,
)

__all__ = ["Answers", "AskedError", "Choice", "Done", "Filed", "Kept", "Left", "Quantity",
           "Question", "Skipped", "Typed", "Unfinished"]
