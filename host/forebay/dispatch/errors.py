"""The one error of this room."""

from forebay.errors import InputError


class DispatchError(InputError):
    """An order or a key that cannot be used, or a board that refuses: why, and what to do.

    Attribute refusal: number in `forebay.words.operation.REFUSALS`, 0 if it is not the keeper's.
    """

    def __init__(self, text: str, refusal: int = 0):
        super().__init__(text)
        self.refusal = refusal
