"""What was pulled from boards: kept verbatim, decoded on demand."""

from forebay.shelf.clock import Anchor, Clock, Times
from forebay.shelf.decode import Findings, Journal, decode
from forebay.shelf.opening import ShelfError
from forebay.shelf.rows import Rows
from forebay.shelf.store import Shelf, default_path
from forebay.shelf.told import Note, Rehearsed

__all__ = [
    "Anchor", "Clock", "Findings", "Journal", "Note", "Rehearsed", "Rows", "Shelf",
    "ShelfError", "Times", "decode", "default_path",
]
