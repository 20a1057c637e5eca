"""What a rig does and why, on one page for whoever asks, drawn from its own numbers.

`facts_of` computes, with keeper.physics through forebay.rig and forebay.plan; `page`
and `lines` show.  Knows nothing of boards, shelves and the twin.
"""

from forebay.explain.facts import document, facts_of
from forebay.explain.page import page
from forebay.explain.words import lines

__all__ = ["document", "facts_of", "lines", "page"]
