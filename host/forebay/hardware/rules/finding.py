"""What a rule says when the circuit breaks it."""

from typing import NamedTuple


class Finding(NamedTuple):
    """One thing that is wrong: by which rule, where, and what."""

    rule: str
    where: str  # part, pin or net
    text: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.where}: {self.text}"
