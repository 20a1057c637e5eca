"""Is what the shelf holds whole and sound, and if not, what is lost and why?"""

from forebay.shelf.checking.report import Check, Verdict, check

__all__ = ["Check", "Verdict", "check"]
