"""keeper: the control program of a small pumped-water energy store."""

VERSION = (0, 1, 0)
