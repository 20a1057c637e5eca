"""Flashing: a board's firmware and settings brought up to date, whole or not at all."""

from forebay.flash.errors import FlashError
from forebay.flash.job import Job, Report, flash

__all__ = ["FlashError", "Job", "Report", "flash"]
