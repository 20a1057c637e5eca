"""What people have asked of a rig, as they know it themselves: never from the keeper's state.

Follows what was ordered and answered with "done", what was pressed, and day
and night by the true panel.  What a press of the button chose depends on the
presses before it: until dawn the light that is wanted is then not known here.
"""

from typing import NamedTuple

from keeper.operation import orders

MIN_S = 60.0
NEVER = -1.0
# Beside the codes of orders: the button, a board that began anew, the local stop and the
# tank's hand valve (a: 1 pressed, open).
PRESSED, BEGAN, STOPPED, TANK = 0, -1, -2, -3
PRESS_S = 3600.0           # a press by day holds for so long at the most (night.press)


class Told(NamedTuple):
    """One thing that was asked for, so that it can be told again."""

    at_s: float
    code: int                # of orders.ORDERS, or one of those above
    a: int = 0
    b: int = 0


class Wishes:
    """What is wanted now.  `told`: all that was asked for, in order."""

    def __init__(self, ordinary_W, steps_W, longest_night_s, at_dusk=True, press_s=PRESS_S):
        """Takes the rig's own light [W], the button's steps [W], the site's longest night [s].

        at_dusk: the light begins by itself; press_s: a press holds for so long [s].
        """
        self.at_dusk = at_dusk
        self.press_s = press_s
        self.ordinary_W = ordinary_W
        self.steps_W = steps_W
        self.longest_night_s = longest_night_s
        self.told: list = []
        self.dark = False
        self.began_s = 0.0
        self.forget(0.0)

    def forget(self, now_s):
        """A board that begins anew knows no order, and not yet that it is dark."""
        self.drain_s = self.rest_s = self.no_pump_s = NEVER    # until when
        self.ordered_s = self.ends_s = self.unknown_s = NEVER
        self.drained_s = -1e9    # when a drain was last ordered
        self.ordered_W = 0.0
        self.maintained = False
        self.off_tonight = False
        self.dark = False
        self.twilight_s = 0.0
        self.night_s = 0.0

    def tell(self, told: Told):
        """Takes what was asked for, and done."""
        self.told.append(told)
        now_s, code, a, b = told
        if code == BEGAN:
            self.forget(now_s)
        elif code == PRESSED:
            self.unknown_s = now_s + self.press_s
        elif code == orders.DRAIN_DOWN:
            self.drain_s = now_s + (b or orders.DAY_MIN) * MIN_S if a else NEVER
        elif code == orders.MAINTAIN:
            self.maintained = bool(a)
        elif code == orders.RESET:
            self.drain_s = NEVER     # after a lockout nothing goes on where it was
        elif code == orders.PUMP_ALLOWED:
            self.no_pump_s = NEVER if a else now_s + (b or orders.DAY_MIN) * MIN_S
        elif code > 0:
            self._light(now_s, code, a, b)

    def _light(self, now_s, code, a, b):
        if code == orders.REST:
            self.rest_s = now_s + a * MIN_S
            self.no_pump_s = max(self.no_pump_s, self.rest_s)
            self.ordered_s = self.ends_s = NEVER
        elif code == orders.RELEASE:
            self.rest_s = self.no_pump_s = self.drain_s = NEVER
            self.ordered_s = self.ends_s = self.unknown_s = NEVER
            self.off_tonight = False
        elif code in (orders.LIGHT, orders.BRIGHTNESS):
            self.ordered_W = a / 1000.0 if code == orders.LIGHT else self.steps_W[a - 1]
            self.ordered_s = now_s + b * MIN_S
            self.rest_s = self.unknown_s = NEVER
            self.off_tonight = False
        elif code == orders.LAST:
            self.ends_s = now_s + a * MIN_S if a else NEVER
            self.rest_s = NEVER
            self.off_tonight = False

    def pass_time(self, now_s, step_s, is_dark, dark_s):
        """Follows day and night: is_dark by the true panel, believed after `dark_s` [s].

        None: it does not show which.
        """
        if self.dark:
            self.night_s += step_s
        if is_dark == self.dark:
            self.twilight_s = 0.0
        elif is_dark is not None:
            self.twilight_s += step_s
            if self.twilight_s >= dark_s:
                self._turn(now_s, dark_s)
        if NEVER < self.ends_s <= now_s:
            self.ends_s = self.ordered_s = NEVER
            self.off_tonight = self.dark

    def _turn(self, now_s, dark_s):
        self.dark = not self.dark
        self.twilight_s = 0.0
        self.night_s = dark_s if self.dark else 0.0
        if not self.dark:
            self.off_tonight = False
            self.ends_s = NEVER

    def light_W(self, now_s):
        """Returns the lamp power that is wanted [W], 0.0 for none, None where nobody can say."""
        if self.unknown_s > NEVER:
            if self.dark and self.at_dusk or now_s < self.unknown_s:
                return None
            self.unknown_s = NEVER
        if self.maintained or self.drains(now_s) or now_s < self.rest_s:
            return 0.0
        if now_s < self.ordered_s:
            return self.ordered_W
        is_due = self.at_dusk and self.dark and not self.off_tonight
        return self.ordinary_W if is_due else 0.0

    def must_last_s(self, now_s):
        """Returns for how long the light is to last [s], None = as long as it is ordered."""
        if now_s < self.ends_s:
            return self.ends_s - now_s
        if now_s < self.ordered_s:
            return None
        return max(0.0, self.longest_night_s - self.night_s)

    def drains(self, now_s):
        """Returns whether a drain is ordered."""
        if now_s < self.drain_s:
            self.drained_s = now_s
            return True
        return False

    def pump(self, now_s):
        """Returns whether nobody has forbidden the pump."""
        return now_s >= self.no_pump_s and not self.maintained and not self.drains(now_s)
