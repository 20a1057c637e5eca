"""Boards: which pin does what, and the drivers put together as one `read` and `write`."""
