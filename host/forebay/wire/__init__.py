"""The line to a board: Modbus client and pull."""

from forebay.wire.client import Board, NoAnswer, NoSuchRecord, WireError
from forebay.wire.pull import PullReport, pull

__all__ = ["Board", "NoAnswer", "NoSuchRecord", "PullReport", "WireError", "pull"]
