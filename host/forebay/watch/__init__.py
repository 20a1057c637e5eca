"""Watching a board: its live values in plain words, for a terminal or a file."""

from forebay.watch.follow import Follower
from forebay.watch.view import plain_line, view

__all__ = ["Follower", "plain_line", "view"]
