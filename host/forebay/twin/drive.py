"""What the valve's motor does to its plug: it starts late, runs on, and has play in its gear.

The motor's speed follows its supply with one time constant, so that it runs on as far
as it started late; at each change of direction the gear's play is taken up before the
plug moves.
"""

import math

LEAST = 1e-9             # travels a second, or seconds: less is nothing


class Drive:
    """The motor and gear of one valve.

    Attributes: on, whether anything turns; moves, starts of the motor; motor_s, how long
    it ran, since the start.
    """

    def __init__(self, travel_s, coast_s, play):
        """Take the travel time [s], the motor's time constant [s], the play [of the travel]."""
        self.travel_s = travel_s
        self.coast_s = coast_s
        self.play = play
        self.at = 0.0            # where the gear stands within its play
        self.speed = 0.0         # of the motor, in travels a second
        self.left_s = 0.0        # how long it is still supplied, + opens
        self.on = False
        self.ran_on = False      # the supply filled the whole step before
        self.moves = 0
        self.motor_s = 0.0

    def supply(self, run_s):
        """Take for how long the motor is supplied from now on [s], + opens.

        It is a start unless the supply before lasts until now.
        """
        if run_s and not self.ran_on:
            self.moves += 1
        self.left_s = run_s
        self.on = self.on or run_s != 0.0

    def step(self, dt_s):
        """Advance by a time [s]; return by how much the plug is moved [of the travel]."""
        length_s = min(abs(self.left_s), dt_s)
        way = 0.0
        if length_s:
            way += self._turn(math.copysign(1.0 / self.travel_s, self.left_s), length_s)
            self.motor_s += length_s
            self.left_s -= math.copysign(length_s, self.left_s)
        self.ran_on = length_s > dt_s - LEAST
        if not self.ran_on:
            self.left_s = 0.0
            way += self._turn(0.0, dt_s - length_s)
        self.on = self.ran_on or self.speed != 0.0
        return way

    def _turn(self, towards, dt_s):
        """Turn for a time [s] under a supply that would give it a speed [1/s]; return the way."""
        if self.coast_s:
            left = math.exp(-dt_s / self.coast_s)
            way = towards * dt_s + (self.speed - towards) * self.coast_s * (1.0 - left)
            self.speed = towards + (self.speed - towards) * left
        else:
            way, self.speed = towards * dt_s, towards
        if abs(self.speed) < LEAST:
            self.speed = 0.0
        moved = self.at + way
        self.at = min(self.play, max(0.0, moved))
        return moved - self.at
