"""What lies between the instruments and the board: leads, loops and monitors that fail.

A disturbance changes what the board reads, never what is true.
"""

from keeper.clock import PERIODS_PER_S

SAYS, ADDS, STICKS, GROWS, SHARES, CHATTERS = range(6)
PERCENT = 100
CHATTER_OPEN, CHATTER_EVERY = 2 * PERIODS_PER_S, 45 * PERIODS_PER_S


class Leads:
    """Disturbed values of the board's list."""

    def __init__(self):
        self.odd = []       # [place, kind, argument, memory] of each disturbance
        self.reads = 0

    def says(self, place, value):
        """A value reads this, whatever is true."""
        self.odd.append([place, SAYS, value, None])

    def adds(self, place, value):
        """A value reads so much more."""
        self.odd.append([place, ADDS, value, None])

    def sticks(self, place):
        """A value stays as it was when this began."""
        self.odd.append([place, STICKS, 0, None])

    def grows(self, place, percent):
        """A value reads so much [percent] of what it should."""
        self.odd.append([place, GROWS, percent, None])

    def shares(self, place, percent):
        """A count of pulses loses all but so many [percent]."""
        self.odd.append([place, SHARES, percent, 0])

    def chatters(self, place):
        """A contact opens for 2 s every 45 s."""
        self.odd.append([place, CHATTERS, 0, None])

    def disturb(self, values):
        """Change the values that a board has just read."""
        self.reads += 1
        for one in self.odd:
            place, kind, argument, memory = one
            if kind == SAYS:
                values[place] = argument
            elif kind == ADDS:
                values[place] += argument
            elif kind == GROWS:
                values[place] = values[place] * argument // PERCENT
            elif kind == STICKS:
                if memory is None:
                    one[3] = values[place]
                values[place] = one[3]
            elif kind == SHARES:
                due = memory + values[place] * argument
                values[place] = due // PERCENT
                one[3] = due % PERCENT
            elif self.reads % CHATTER_EVERY < CHATTER_OPEN:
                values[place] = 0
