"""What lies between the instruments and the board: leads, loops and monitors that fail.

A disturbance changes what the board reads, never what is true.
"""

from forebay.twin.sensors import Draws
from keeper.clock import PERIOD_S, PERIODS_PER_S

(SAYS, ADDS, STICKS, GROWS, SHARES, CHATTERS, PULSES, FLICKERS, DROPS, GARBLES,
 SWAPS, MIRRORS) = range(12)
PERCENT = 100
CHATTER_OPEN, CHATTER_EVERY = 2 * PERIODS_PER_S, 45 * PERIODS_PER_S
OPENS_S, HOLDS_S = (0.05, 2.0), (1.0, 60.0)     # of a loose contact, at random; guesses
GARBLED_FRAC = 0.2       # of a long line beside a motor; a guess
# Not a whole number of its turns, so that losses fall on each of them.
DROP_SCANS, DROP_EVERY = 7, 90 * PERIODS_PER_S + 1


class Leads:
    """Disturbed values of the board's list.

    Attributes: judges, whether what a board's own code makes of it must be asked
    (`judged`); lost, places of what gives no answer now: a monitor by its current.
    """

    def __init__(self, seed=1):
        """Take the seed [-] of what happens at random."""
        self.odd = []       # [place, kind, argument, memory] of each disturbance
        self.reads = 0
        self.draws = Draws(seed)
        self.judges = False
        self.lost = ()

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

    def pulses(self, place, per_s):
        """A count has so many false pulses a second [1/s] beside its own."""
        self.odd.append([place, PULSES, per_s, 0])

    def chatters(self, place):
        """A contact opens for 2 s every 45 s."""
        self.odd.append([place, CHATTERS, 0, None])

    def flickers(self, place):
        """A contact opens for 0.05 to 2 s at random times."""
        self.odd.append([place, FLICKERS, False, self.reads * PERIOD_S])
        self.judges = True

    def drops(self, place):
        """The monitor of a current does not answer for 0.7 s of every 90 s."""
        self.odd.append([place, DROPS, 0, None])
        self.judges = True

    def garbles(self, place):
        """One in five readings of a thermometer is damaged on its line."""
        self.odd.append([place, GARBLES, 0, None])
        self.judges = True

    def swaps(self, place, other):
        """Two values are taken for each other."""
        self.odd.append([place, SWAPS, other, None])

    def mirrors(self, place, whole):
        """A value reads what is left of a whole."""
        self.odd.append([place, MIRRORS, whole, None])

    def disturb(self, values):
        """Change the values that a board has just read."""
        self.reads += 1
        self.lost = ()
        for one in self.odd:
            place, kind, argument, memory = one
            if kind == SAYS:
                values[place] = argument
            elif kind == ADDS:
                values[place] += argument
            elif kind == MIRRORS:
                values[place] = argument - values[place]
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
            elif kind == PULSES:
                due = memory + argument
                values[place] += int(due // PERIODS_PER_S)
                one[3] = due % PERIODS_PER_S
            elif kind == FLICKERS:
                if self._is_open(one):
                    values[place] = 0
            elif kind == DROPS:
                if (self.reads - 1) % DROP_EVERY < DROP_SCANS:
                    self.lost += (place,)
            elif kind == GARBLES:
                if self.draws.uniform() < GARBLED_FRAC:
                    self.lost += (place,)
            elif kind == SWAPS:
                values[place], values[argument] = values[argument], values[place]
            elif self.reads % CHATTER_EVERY < CHATTER_OPEN:
                values[place] = 0

    def _is_open(self, one):
        """Return whether a loose contact is open now; its row holds that, and until when."""
        while one[3] <= self.reads * PERIOD_S:
            one[2] = not one[2]
            least_s, most_s = OPENS_S if one[2] else HOLDS_S
            one[3] += least_s + (most_s - least_s) * self.draws.uniform()
        return one[2]
