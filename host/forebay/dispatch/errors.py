"""The one error of this room."""

from forebay.errors import InputError


class DispatchError(InputError):
    """An order or a key that cannot be used, or a board that refuses: why, and what to do.

    Attribute refusal: number in `keeper.orders.REFUSALS`, 0 if the keeper did not refuse.
    """

    def __init__(self, text: str, refusal: int = 0):
        super().__init__(text)
        self.refusal = refusal
