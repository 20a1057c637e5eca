"""What a part of a shelf may count on: its file, asking it, and one transaction."""

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any


class ShelfPart(ABC):
    """A part of a shelf (`forebay.shelf.Shelf`) that has tables of its own."""

    path: Path

    @abstractmethod
    def read(self, question: str, *values) -> list[tuple]:
        """Return the rows that SQL selects."""

    @abstractmethod
    def _writing(self, rig_id: int) -> AbstractContextManager[Any]:
        """Give the database for one transaction, with the rig noted."""
