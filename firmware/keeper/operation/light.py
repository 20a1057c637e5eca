"""When light is wanted, and how much: dusk, button, clock and orders.

Owns day and night as the panel shows them, the clock if anybody set it, and
the holds that expire.  It starts nothing: `due` and `setpoint_mW` say what is
wanted; protection and the sequence decide.
"""

from keeper.settings import index as at
from keeper.channels import INVALID, PANEL_MV
from keeper.clock import PERIODS_PER_S
from keeper.events import CLOCK_UNKNOWN

STEPS = 8
PERIODS_PER_MIN = 60 * PERIODS_PER_S
PERIODS_PER_DAY = 1440 * PERIODS_PER_MIN
LONGEST_PERIODS = 1 << 28  # a count of periods stops here: 310 days
LEAST_NIGHT_MIN = 60    # a shorter darkness is a cover on the panel, no night; a guess


class Light:
    """What light is wanted."""

    def __init__(self, settings, events):
        """Take settings [list in table order]; post to `events`."""
        self.events = events
        self.dark_mV = settings[at("dark_panel_mV")]
        self.dark_wait_periods = settings[at("dark_s")] * PERIODS_PER_S
        self.at_dusk = settings[at("at_dusk")]
        self.clock_on_min = settings[at("clock_on_min")]
        self.clock_off_min = settings[at("clock_off_min")]
        self.press_periods = settings[at("light_press_min")] * PERIODS_PER_MIN
        self.longest_night_min = settings[at("longest_night_min")]
        self.ordinary_mW = settings[at("setpoint_mW")]
        self.steps = []
        first = at("step_1_mW")
        for step_mW in settings[first:first + STEPS]:
            if step_mW:
                self.steps.append(step_mW)
        self.wanted_mW = self.ordinary_mW  # as rig, button or order wish it
        self.setpoint_mW = self.wanted_mW  # what the governor holds, dimmed by the night's plan
        self.dark = False        # it is night, as far as the panel shows
        self.twilight_periods = 0  # periods in which dark or bright contradicts `dark`
        self.night_periods = 0   # periods of darkness so far
        self.last_night_min = 0  # length of the last whole night, 0 = none measured
        self.saw_dusk = False    # this boot saw the night begin
        self.ordered_periods = 0  # periods of light that an order or the button still holds
        self.ends_periods = 0    # periods till the end that an order set for the light
        self.off_periods = 0     # periods without light that an order still holds
        self.off_tonight = False # the button has turned the light off till dawn
        self.asked = False       # a person, or the dusk, asks for light anew
        self.clock_periods = 0           # time of day, UTC
        self.clock_known = False # somebody set the clock in this boot
        self.clock_announced = False  # an unknown clock has been reported
        self.replan = True       # the night's plan must be made anew

    def pass_time(self, values, periods):
        """Take a scan; allocates nothing."""
        if self.ordered_periods:
            self.ordered_periods = max(0, self.ordered_periods - periods)
            if not self.ordered_periods:
                self.choose(self.ordinary_mW)
        if self.ends_periods:
            self.ends_periods = max(0, self.ends_periods - periods)
            if not self.ends_periods:
                self.off_tonight = self.dark  # it was to last till now
                self.ordered_periods = 0
                self.choose(self.ordinary_mW)
        if self.off_periods:
            self.off_periods = max(0, self.off_periods - periods)
        clock_periods = self.clock_periods + periods
        if clock_periods >= PERIODS_PER_DAY:
            clock_periods -= PERIODS_PER_DAY
        self.clock_periods = clock_periods
        if self.dark and self.night_periods < LONGEST_PERIODS:
            self.night_periods += periods
        panel_mV = values[PANEL_MV]
        # An untrusted panel voltage keeps what was last known of day and night.
        if panel_mV != INVALID and (panel_mV < self.dark_mV) != self.dark:
            self.twilight_periods += periods
            if self.twilight_periods >= self.dark_wait_periods:
                self._dusk_or_dawn()
        else:
            self.twilight_periods = 0

    def _dusk_or_dawn(self):
        """Dusk or dawn."""
        self.dark = not self.dark
        self.twilight_periods = 0
        self.replan = True
        if self.dark:
            self.asked = True
            self.saw_dusk = self.events.uptime_ds > 2 * self.dark_wait_periods
            self.night_periods = self.dark_wait_periods
            if self.clock_on_min >= 0 and not self.clock_known and not self.clock_announced:
                self.clock_announced = True
                self.events.post(CLOCK_UNKNOWN, 0, self.clock_on_min)
            return
        minutes = self.night_periods // PERIODS_PER_MIN
        if self.saw_dusk and LEAST_NIGHT_MIN <= minutes <= self.longest_night_min:
            self.last_night_min = minutes
        self.night_periods = 0
        self.off_tonight = False
        self.ends_periods = 0
        if not self.ordered_periods:
            self.choose(self.ordinary_mW)

    def due(self):
        """Return whether light is wanted now [bool]."""
        if self.off_periods or self.wanted_mW <= 0:
            return False
        if self.ordered_periods:
            return True
        if self.off_tonight:
            return False
        return (self.at_dusk and self.dark) or self._clock_says()

    def _clock_says(self):
        if self.clock_on_min < 0 or self.clock_off_min < 0 or not self.clock_known:
            return False
        minute = self.clock_periods // PERIODS_PER_MIN
        if self.clock_on_min <= self.clock_off_min:
            return self.clock_on_min <= minute < self.clock_off_min
        return minute >= self.clock_on_min or minute < self.clock_off_min

    def choose(self, power_mW):
        """Want this lamp power [mW]; the night is planned anew."""
        self.wanted_mW = power_mW
        self.setpoint_mW = power_mW
        self.replan = True

    def hold(self, power_mW, periods):
        """Light at a power [mW] for so long, day or night."""
        self.choose(power_mW)
        self.asked = True
        self.ordered_periods = periods
        self.off_periods = 0
        self.off_tonight = False

    def last(self, periods):
        """Make tonight's light last for `periods` from now; 0 = till dawn."""
        self.asked = True
        self.ends_periods = periods
        self.off_periods = 0
        self.off_tonight = False
        self.replan = True

    def rest(self, periods):
        """No light for so long."""
        self.off_periods = periods
        self.ordered_periods = 0
        self.ends_periods = 0

    def release(self):
        """End every hold: the rig's own rules again."""
        self.ordered_periods = self.ends_periods = self.off_periods = 0
        self.off_tonight = False
        self.choose(self.ordinary_mW)

    def pressed(self):
        """The button was pressed: the next step; behind the last one, off; by day a timed light.

        Allocates nothing.
        """
        if not self.steps:
            return
        step = 0
        if self.due():  # steps rise: the next is the first above what is wanted now
            while step < len(self.steps) and self.steps[step] <= self.wanted_mW:
                step += 1
        if step >= len(self.steps):
            self.ordered_periods = 0
            self.off_tonight = self.dark
            self.choose(self.ordinary_mW)
            return
        self.hold(self.steps[step], 0 if self.dark and self.at_dusk else self.press_periods)

    def set_clock(self, second_of_day):
        """Set the time of day, UTC [s]."""
        self.clock_periods = second_of_day * PERIODS_PER_S
        self.clock_known = True

    def minutes_left(self):
        """Return how long the light must last [min]: to the order's end, or to dawn."""
        if self.ends_periods or self.ordered_periods:
            return (self.ends_periods or self.ordered_periods) // PERIODS_PER_MIN
        if self.dark and self.at_dusk:
            whole = self.last_night_min or self.longest_night_min
            return max(0, whole - self.night_periods // PERIODS_PER_MIN)
        off_min = self.clock_off_min if self.clock_off_min >= 0 else 0
        return (off_min - self.clock_periods // PERIODS_PER_MIN) % 1440
