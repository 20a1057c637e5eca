"""When light is wanted, and how much: dusk, button, clock and orders.

Owns day and night as the panel shows them, the clock if anybody set it, and
the holds that expire.  It starts nothing: `due` and `setpoint_mW` say what is
wanted; protection and the sequence decide.  Times are periods of 0.1 s.
"""

from keeper.settings import index as at
from keeper.channels import INVALID, PANEL_MV
from keeper.clock import PERIODS_PER_S
from keeper.events import CLOCK_UNKNOWN

STEPS = 8
MIN = 60 * PERIODS_PER_S
DAY = 1440 * MIN
LONGEST = 1 << 28       # a count of periods stops here: 310 days
LEAST_NIGHT_MIN = 60    # a shorter darkness is a cover on the panel, no night; a guess


class Light:
    """What light is wanted."""

    def __init__(self, settings, events):
        """Take settings [list in table order]; post to `events`."""
        self.events = events
        self.dark_mV = settings[at("dark_panel_mV")]
        self.dark_wait = settings[at("dark_s")] * PERIODS_PER_S
        self.at_dusk = settings[at("at_dusk")]
        self.clock_on = settings[at("clock_on_min")]
        self.clock_off = settings[at("clock_off_min")]
        self.press = settings[at("light_press_min")] * MIN
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
        self.twilight = 0        # periods in which dark or bright contradicts `dark`
        self.night = 0           # periods of darkness so far
        self.last_night_min = 0  # length of the last whole night, 0 = none measured
        self.saw_dusk = False    # this boot saw the night begin
        self.ordered = 0         # periods of light that an order or the button still holds
        self.ends = 0            # periods till the end that an order set for the light
        self.off = 0             # periods without light that an order still holds
        self.off_tonight = False # the button has turned the light off till dawn
        self.clock = 0           # time of day, UTC [periods]
        self.clock_known = False # somebody set the clock in this boot
        self.clock_told = False  # an unknown clock has been told
        self.replan = True       # the night's plan must be made anew

    def pass_time(self, values, periods):
        """Take a scan; allocates nothing."""
        if self.ordered:
            self.ordered = max(0, self.ordered - periods)
            if not self.ordered:
                self.choose(self.ordinary_mW)
        if self.ends:
            self.ends = max(0, self.ends - periods)
            if not self.ends:
                self.off_tonight = self.dark  # it was to last till now
                self.ordered = 0
                self.choose(self.ordinary_mW)
        if self.off:
            self.off = max(0, self.off - periods)
        self.clock += periods
        if self.clock >= DAY:
            self.clock -= DAY
        if self.dark and self.night < LONGEST:
            self.night += periods
        panel_mV = values[PANEL_MV]
        # An untrusted panel voltage keeps what was last known of day and night.
        if panel_mV != INVALID and (panel_mV < self.dark_mV) != self.dark:
            self.twilight += periods
            if self.twilight >= self.dark_wait:
                self._turn()
        else:
            self.twilight = 0

    def _turn(self):
        """Dusk or dawn."""
        self.dark = not self.dark
        self.twilight = 0
        self.replan = True
        if self.dark:
            self.saw_dusk = self.events.uptime_ds > 2 * self.dark_wait
            self.night = self.dark_wait
            if self.clock_on >= 0 and not self.clock_known and not self.clock_told:
                self.clock_told = True
                self.events.post(CLOCK_UNKNOWN, 0, self.clock_on)
            return
        minutes = self.night // MIN
        if self.saw_dusk and LEAST_NIGHT_MIN <= minutes <= self.longest_night_min:
            self.last_night_min = minutes
        self.night = 0
        self.off_tonight = False
        self.ends = 0
        if not self.ordered:
            self.choose(self.ordinary_mW)

    def due(self):
        """Return whether light is wanted now [bool]."""
        if self.off or self.wanted_mW <= 0:
            return False
        if self.ordered:
            return True
        if self.off_tonight:
            return False
        return (self.at_dusk and self.dark) or self._clock_says()

    def _clock_says(self):
        if self.clock_on < 0 or self.clock_off < 0 or not self.clock_known:
            return False
        minute = self.clock // MIN
        if self.clock_on <= self.clock_off:
            return self.clock_on <= minute < self.clock_off
        return minute >= self.clock_on or minute < self.clock_off

    def choose(self, power_mW):
        """Want this lamp power [mW]; the night is planned anew."""
        self.wanted_mW = power_mW
        self.setpoint_mW = power_mW
        self.replan = True

    def hold(self, power_mW, periods):
        """Light at a power [mW] for so long, day or night."""
        self.choose(power_mW)
        self.ordered = periods
        self.off = 0
        self.off_tonight = False

    def last(self, periods):
        """Make tonight's light last for `periods` from now; 0 = till dawn."""
        self.ends = periods
        self.off = 0
        self.off_tonight = False
        self.replan = True

    def rest(self, periods):
        """No light for so long."""
        self.off = periods
        self.ordered = 0
        self.ends = 0

    def release(self):
        """End every hold: the rig's own rules again."""
        self.ordered = self.ends = self.off = 0
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
            self.ordered = 0
            self.off_tonight = self.dark
            self.choose(self.ordinary_mW)
            return
        ordered = 0 if self.dark and self.at_dusk else self.press
        self.hold(self.steps[step], ordered)

    def set_clock(self, second_of_day):
        """Set the time of day, UTC [s]."""
        self.clock = second_of_day * PERIODS_PER_S
        self.clock_known = True

    def minutes_left(self):
        """Return how long the light must last [min]: to the order's end, or to dawn."""
        if self.ends or self.ordered:
            return (self.ends or self.ordered) // MIN
        if self.dark and self.at_dusk:
            whole = self.last_night_min or self.longest_night_min
            return max(0, whole - self.night // MIN)
        off = self.clock_off if self.clock_off >= 0 else 0
        return (off - self.clock // MIN) % 1440
