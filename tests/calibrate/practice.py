"""A person at a simulated rig: hands that read the plant's truth, and a line to its keeper.

Both are of one twin, in one process: its time passes where the board's is waited for, and
where a hand does something that takes a while.
"""

import math
import random

from forebay.asking import Left
from forebay.rig import load, load_text
from keeper import channels as ch
from keeper.operation.orders import carry_out
from tests.twin.rigs import run_until

DEMO = load()
# The same, whose figures nobody has measured yet.
ASSUMED = load_text(DEMO.toml_text + """
[assumed]
upper = ["width"]
pump = ["shut_off_head", "rated_head"]
motor = ["cooled_resistance", "still_resistance", "heat_capacity"]
""", "assumed")
SHARE = 1.06   # of the stated figures, that the rig of the conftest's day has
TRUE = {
    "upper.start_volume_m3": 0.15, "upper.width_m": DEMO.upper.width_m * SHARE,
    "pump.shut_off_head_m": DEMO.pump.shut_off_head_m * SHARE,
    "motor.cooled_resistance_K_W": DEMO.motor.cooled_resistance_K_W * 1.2,
    "motor.still_resistance_K_W": DEMO.motor.still_resistance_K_W * 0.85,
    "motor.heat_capacity_J_K": DEMO.motor.heat_capacity_J_K * 1.3,
}
BUCKET_S = 170       # of filling, some 9 L at the demo's flow
PAUSE_S = 5


class Hands:
    """Answers from the plant, and its keeper's line.

    given: answers by name, or by the end of a name; u: standard uncertainty of each hand
    reading by the end of its name; wrong: factor by which a reference is off, by the same.
    leave_at: the name of a question at which the person leaves.
    """

    unused = ()              # nothing is left over: an answer is made when it is asked for

    def __init__(self, twin, given=(), seed=1, leave_at=None):
        self.twin = twin
        self.plant = twin.plant
        self.given = dict(given)
        self.draw = random.Random(seed)
        self.leave_at = leave_at
        self.asked = []
        self.told = []
        self.marks = {}

    # The line

    def values(self, *names):
        """Returns registers by name, as the wire gives them."""
        keeper = self.twin.keeper
        found = {"state": keeper.state, "uptime_ds": keeper.uptime_ds}
        found.update({row[ch.CH_NAME]: keeper.values[i] for i, row in enumerate(ch.CHANNELS)})
        found.update({f"out_{row[0]}": keeper.outputs[i] for i, row in enumerate(ch.OUTPUTS)})
        totals = keeper.totals
        found.update({name: totals.high[i] * ch.LIMB + totals.low[i]
                      for i, name in enumerate(ch.TOTALS)})
        return {name: found[name] for name in names}

    def rest(self, seconds):
        """Lets the board's time pass."""
        self.twin.run(math.ceil(seconds * 10))

    def order(self, code, a=0, b=0):
        """Gives the keeper an order."""
        return carry_out(self.twin.keeper, code, a, b)

    # The answers

    def to(self, question):
        """Returns what a person answers."""
        self.asked.append(question.name)
        if question.name == self.leave_at:
            raise Left
        if question.name in self.given:
            return question.read(str(self.given[question.name]))
        for end, value in self.given.items():
            if end.startswith("*") and question.name.endswith(end[1:]):
                return question.read(str(value(self, question) if callable(value) else value))
        return question.read(str(self._hand(question.name)))

    def _hand(self, name):
        side, _, rest = name.partition("_")
        if rest.endswith("_in"):
            self.marks[side] = self._moved(side)
            return ""
        if rest.endswith("_out"):
            self.rest(BUCKET_S)
            self.marks[f"{side}_L"] = 1e3 * (self._moved(side) - self.marks[side])
            return ""
        if rest.endswith("_volume"):
            return f"{self.marks[f'{side}_L']} L"
        self.rest(PAUSE_S)
        return ""

    def _moved(self, side):
        """Returns the water that has passed a pipe [m3]."""
        return getattr(self.plant, "up" if side == "up" else "down").volume_m3

    def until(self, seen, longest_s=3600):
        """Lets time pass until something is seen."""
        run_until(self.twin, seen, longest_s)
