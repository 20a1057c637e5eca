"""The line to a board: Modbus client and pull."""

from forebay.wire.client import Board, NoSuchRecord, WireError
from forebay.wire.pull import PullReport, pull

__all__ = ["Board", "NoSuchRecord", "PullReport", "WireError", "pull"]
