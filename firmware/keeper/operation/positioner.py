"""The valve's positioner: from where the valve should stand to how long its motor runs.

It reckons by running time: a position sensor is too coarse to step a light by.
What the sensor reads corrects the reckoning slowly while the valve rests, and at
once when it begins to shut, if it reads further open; an end of the travel, pressed
on, makes it true again.  Without a sensor the shut end is pressed for the whole travel and
more, whatever was reckoned, and again while the generator says that water still comes.

`goal` is where the valve is to go, `aim` where it should be by now at the safe rate,
`at` where it is believed to be: all in millionths of the travel.  A valve that goes
where it is told by itself (a servo) is never driven: it stands where it should.
Integers; allocates nothing.
"""

from keeper.settings import index as at
from keeper.channels import CHANNELS, CH_HIGH, CH_LOW, INVALID, VALVE_PERMILLE
from keeper.clock import PERIOD_MS, PERIODS_PER_S

MILLIONTHS = 1000000
PERMILLE = 1000
READS_LOW = CHANNELS[VALVE_PERMILLE][CH_LOW]
READS_HIGH = CHANNELS[VALVE_PERMILLE][CH_HIGH]
SHUTS, OPENS = -1, 1
# A valve that stands where it should is looked at again after this time.
RESTS_PERIODS = PERIODS_PER_S - 1
# How far the reckoning then follows the sensor: 2 permille a minute.  Thirty moves an
# hour, each wrong by a few permille, are made good; a guess.
FOLLOWS = 33
# A valve that does not read shut is pressed again after this time; a guess.
AGAIN_PERIODS = 10 * PERIODS_PER_S
# Without a sensor the time doubles up to this: what no pressing shuts is not pressed for ever.
AGAIN_MOST_PERIODS = 3600 * PERIODS_PER_S
# After it was pressed shut it comes to rest, then its reading is averaged.
CALM_PERIODS = PERIODS_PER_S
LEARNT_PERIODS = 3 * PERIODS_PER_S


class Positioner:
    """One valve.

    Attributes: goal, aim, at [millionths]; zero, what the sensor reads at the shut end
    [permille]; moves, starts of the motor since the start of the board; is_learnt, whether
    nothing more is to be learnt of the zero; is_home, whether it stands pressed shut, its
    zero learnt if it could be.
    """

    def __init__(self, settings):
        """Take the settings [list in table order] that concern the valve."""
        run_ms = settings[at("valve_run_ms")]
        self.is_driven = run_ms > 0
        # What a period of the motor moves; without one a permille is the finest step.
        self.step = MILLIONTHS * PERIOD_MS // run_ms if run_ms else MILLIONTHS
        self.pulse_ms = settings[at("valve_pulse_ms")]
        self.least = self.step * self.pulse_ms // PERIOD_MS if run_ms else PERMILLE
        self.run_ms = run_ms
        self.backlash = settings[at("valve_backlash_permille")] * PERMILLE
        self.rest_periods = (settings[at("valve_rest_ms")] + PERIOD_MS - 1) // PERIOD_MS
        # Nobody reads where it stands: it runs for so long more until it counts as shut.
        self.whole_ms = 0 if settings[at("fitted")] >> VALVE_PERMILLE & 1 else run_ms
        self.press_ms = settings[at("valve_press_ms")] + self.whole_ms
        self.is_blind = self.whole_ms > 0
        self.again_periods = AGAIN_PERIODS
        self.rate = min(self.step,
                        settings[at("valve_rate_permille_s")] * PERMILLE // PERIODS_PER_S)
        self.shut_permille = settings[at("valve_shut_permille")]
        self.most_zero = settings[at("valve_zero_permille")]
        self.goal = self.aim = self.at = 0
        self.zero = 0
        self.moves = 0
        self.direction = SHUTS   # of the last move; a start presses it shut
        self.slack = 0           # backlash that the motor has still to take up
        self.idle_periods = self.rest_periods  # since the motor ran, no more than count
        self.runs_on = False     # the pulse before filled its period
        self.rests_in = 0        # periods until it is looked at again
        self.left_ms = 0         # how long it is still pressed on at an end
        self.calm_periods = 0    # since it was pressed shut
        self.sum = 0             # of the readings since it came to rest [permille]
        self.is_learnt = False
        self.is_home = False
        self.is_begun = False    # it was taken over as the board read it

    def begin(self, reading):
        """Take over a valve of which the board reads `reading` [permille].

        What is no position is that of a motor which may stand open.
        """
        self.is_begun = True
        if not READS_LOW <= reading <= READS_HIGH:
            reading = PERMILLE
        self.goal = self.aim = self.at = min(MILLIONTHS, max(0, reading * PERMILLE))
        self.left_ms = self.press_ms

    def true(self, reading):
        """Return the position [permille] behind what the sensor reads [permille]."""
        return (reading - self.zero) * PERMILLE // (PERMILLE - self.zero)

    def go(self, goal):
        """Go to a position [millionths] at the safe rate: within the travel, and not shut."""
        self.again_periods = AGAIN_PERIODS
        self.goal = min(MILLIONTHS, max(self.least, goal))
        self.rests_in = 0

    def step_by(self, change):
        """Move by a part of the travel [millionths] from where it is believed to stand.

        Where nobody reads that and it is told to go where it would be shut, it is further open
        than believed: there is light to make less of.
        """
        if self.is_blind and self.at + change < self.least:
            self.at = min(MILLIONTHS, self.least - change)
        self.aim = self.at
        self.go(self.at + change)

    def shut(self, position):
        """Shut at the safe rate, from where the sensor says: `position` [permille] or INVALID.

        What was reckoned counts where that is further open: a wiper may be stuck.
        """
        self.goal = self.rests_in = 0
        if self.is_driven and position > 0:  # INVALID lies below
            self.aim = self.at = max(self.at, min(MILLIONTHS, position * PERMILLE))

    def drive(self, position):
        """Pass one period; return the time for which the motor runs in it [ms], + opens.

        Need not be called while `rests_in` counts down, nor of a valve that is home,
        is to stay so, and reads shut.  position: what the sensor says [permille], INVALID
        if it says nothing.
        """
        if self.goal != self.aim:
            self._advance()
        ms = self._wanted_ms(position) if self.is_driven else self._told()
        if ms == 0:
            self.runs_on = False
            if self.idle_periods < self.rest_periods:
                self.idle_periods += 1
            return 0
        if not self.runs_on:
            self.moves += 1
        self.runs_on = ms == PERIOD_MS or ms == -PERIOD_MS
        self.idle_periods = 0
        return ms

    def _told(self):
        """Pass one period of a valve that goes by itself; at an end it has the time to seat."""
        self.at = self.aim
        if self.aim:
            self._leave()
        elif self.left_ms > 0:
            self.left_ms -= PERIOD_MS
        else:
            self._be_calm()
        return 0

    def _leave(self):
        """It is not at an end: what it is there for begins anew."""
        self.left_ms = self.press_ms
        self.calm_periods = self.sum = 0
        self.is_learnt = self.is_home = False

    def _be_calm(self):
        """Pass one period in which a valve that was pressed shut rests."""
        self.calm_periods += 1
        if self.calm_periods > LEARNT_PERIODS:
            self.is_home = self.is_learnt = True

    def _advance(self):
        """Let the aim follow the goal, one period at the safe rate."""
        if self.goal > self.aim + self.rate:
            self.aim += self.rate
        elif self.goal < self.aim - self.rate:
            self.aim -= self.rate
        else:
            self.aim = self.goal

    def _wanted_ms(self, position):
        gap = self.aim - self.at
        if self.aim == 0 and gap > -self.least:
            self.at = 0
            return self._press_shut(position)
        if self.aim == MILLIONTHS and gap < self.least:
            self.at = MILLIONTHS
            return self._press(OPENS, self.whole_ms)
        if self.left_ms != self.press_ms or self.calm_periods:
            self._leave()
        if gap >= self.least:
            return self._run(OPENS, gap)
        if gap <= -self.least:
            return self._run(SHUTS, -gap)
        if self.aim == self.goal and self.idle_periods >= self.rest_periods:
            self.rests_in = RESTS_PERIODS
            if position != INVALID:
                self._follow(position * PERMILLE)
        return 0

    def _turns(self, direction):
        """Return whether the motor may turn round: it rests first [bool]."""
        if self.idle_periods < self.rest_periods:
            return False
        self.direction = direction
        self.slack = self.backlash
        return True

    def _run(self, direction, way):
        """Run for a way [millionths], at most for this period."""
        if direction != self.direction and not self._turns(direction):
            return 0
        need = way + self.slack
        ms = PERIOD_MS
        if need < self.step:
            ms = max(self.pulse_ms, need * PERIOD_MS // self.step)
        moved = ms * self.step // PERIOD_MS
        taken = min(self.slack, moved)
        self.slack -= taken
        self.at = min(MILLIONTHS, max(0, self.at + direction * (moved - taken)))
        return direction * ms

    def _press(self, direction, until_ms=0):
        """Press on at an end, so that the valve seats and the reckoning is true again."""
        if self.left_ms <= until_ms or direction != self.direction and not self._turns(direction):
            return 0
        ms = min(PERIOD_MS, self.left_ms)
        self.left_ms -= ms
        return direction * ms

    def _press_shut(self, position):
        ms = self._press(SHUTS)
        if not ms and self.left_ms <= 0:
            self._be_calm()
            if self.calm_periods > self.again_periods:
                self.calm_periods = self.again_periods
                if position > self.shut_permille:  # INVALID lies below
                    self._leave()
                    self.left_ms = self.press_ms + position * self.run_ms // PERMILLE
                    if self.is_blind and self.again_periods < AGAIN_MOST_PERIODS:
                        self.again_periods *= 2
        return ms

    def _follow(self, measured):
        """Let the reckoning follow the sensor slowly; what follows moves nothing."""
        change = max(-FOLLOWS, min(FOLLOWS, measured - self.at))
        if self.least < self.at + change < MILLIONTHS - self.least:
            self.at += change
            self.aim += change
            self.goal += change

    def learn(self, reading, is_still):
        """Learn what a valve pressed shut reads [permille]; return whether the zero moved.

        is_still: no water runs down and the generator stands.  What lies beyond the bound
        is no zero.
        """
        calm = self.calm_periods - CALM_PERIODS
        if calm <= 0:
            return False
        if not is_still or reading == INVALID:
            self.is_learnt = True  # nothing is learnt before it is pressed again
            return False
        self.sum += reading
        if calm < LEARNT_PERIODS - CALM_PERIODS:
            return False
        self.is_learnt = True
        mean = (self.sum + calm // 2) // calm
        if -self.most_zero <= mean <= self.most_zero and mean != self.zero:
            self.zero = mean
            return True
        return False
