"""What can go wrong while flashing, and a person can mend."""

from forebay.errors import InputError


class FlashError(InputError):
    """The board could not be flashed: what, why and what to try, in one line."""
