"""What a day should have given, beside what it gave.

Owns the conditions of a span of a shelf (sun, air, wishes for light, water at its begin), what
the described rig makes of them, and the judgement.  Knows no command and no page.
"""

from forebay.expected.asked import expected_of, maybe_usual
from forebay.expected.conditions import Conditions, conditions_of
from forebay.expected.judging import Judged

__all__ = ["Conditions", "Judged", "conditions_of", "expected_of", "maybe_usual"]
