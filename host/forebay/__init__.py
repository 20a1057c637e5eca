"""Companion of a small pumped-water energy store: rehearse, pull, balance, review."""

__version__ = "0.1.0"
