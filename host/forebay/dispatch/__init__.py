"""Orders to a board: keys, signing, sending, and seeing that they took effect."""

from forebay.dispatch.errors import DispatchError

__all__ = ["DispatchError"]
