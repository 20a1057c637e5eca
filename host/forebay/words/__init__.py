"""Words for people about the keeper's tables: one dictionary a table.

The key is what the table knows a row by: its name, or the number under which
it travels.  Owns names, tags and meanings; must not know who shows them.  A
number that a newer firmware made is in none of them.
"""

from typing import NamedTuple


class Named(NamedTuple):
    """A name, and what it means."""

    name: str
    plain: str
