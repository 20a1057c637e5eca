"""The water in an upper tank without a level: true at the floats, reckoned between them.

Owns two bounds: what is surely above the low float, and what may be.  Down by the
flow meter if there is one, else by the light's energy over what a litre gives; up by
the flow meter, else by what the pump can lift at most.  Works in the slack between scans.
"""

from keeper.settings import index as at
from keeper.channels import C_71H_UP, C_71L_UP, FLOW_DOWN, FLOW_UP
from keeper.modes import CLOSING, DRAINING, PUMPING, RUNNING, TRIAL
from keeper.operation.night import LESSONS, ML_PER_L, POINTS, UNKNOWN
from keeper.operation.sequence import UNMARKED

EVERY_DS = 100           # how often what runs is reckoned up
DS_PER_S = 10
PERMILLE = 1000
UL_PER_ML = 1000
# What the curve may be wrong by once an evening, from float to float, has taught it: other
# steps than that evening's, and the floats; a guess that the bench of nights bears out.
LEARNT_PERMILLE = 50
# Likewise where a meter has: of the tank's volume 3 % stay, of the meter's 2 %, twice both.
METERED_PERMILLE = 80
SURE_DS = 50             # a contact reads open till it has been looked at a few times
# Less than half of the curve's first point is no light; starts of so long are; guesses.
DARK_PARTS = 2 * POINTS
DARK_MOST_S = 120
ODD_PARTS = 10           # with more than this part of a tank surely left none has ended; a guess


class Reckoned:
    """Bounds of the water above the low float.

    Attributes: low_mL, high_mL, what is surely and what may be there by the curve as it is,
    UNKNOWN both or none [mL].
    """

    def __init__(self, settings, night):
        """Take the settings [list in table order] and the night whose curve is reckoned with."""
        self.night = night
        self.settings = settings
        fitted = settings[at("fitted")]
        self.sees_flow_down = fitted >> FLOW_DOWN & 1
        self.sees_flow = fitted >> FLOW_UP & 1
        self.low_mL = self.high_mL = UNKNOWN
        self.was_full = False    # the full float was lifted when it was looked at
        self.is_doubted = False  # it is lifted over less water than lifts it
        self.given_mL = UNKNOWN  # taken since it sank, by the curve; UNKNOWN = not all was seen
        self.odd_mL = 0          # given in an evening that ended too early
        self.dark_s = 0          # of a light that was told, since then
        self.state = CLOSING     # since it was reckoned up
        self.looked_ds = 0       # uptime up to which all is reckoned
        self.energy_mJ = self.down_uL = self.up_uL = 0  # totals then

    def is_known(self):
        """Return whether a float has told, or a restart has kept, what there is [bool]."""
        return self.high_mL >= 0

    def sure_mL(self):
        """Return the water [mL] that surely gives what the curve says of it."""
        return self.low_mL * (PERMILLE - self._wrong()) // PERMILLE

    def most_mL(self):
        """Return the water [mL] that gives all the light that may come, by the curve."""
        return self.high_mL * (PERMILLE + self._wrong()) // PERMILLE

    def _wrong(self):
        """Return what the curve may be wrong by [permille]."""
        if self.night.lessons < LESSONS:
            return self.settings[at("output_permille")]
        return METERED_PERMILLE if self.sees_flow_down else LEARNT_PERMILLE

    def _most_full_mL(self):
        # What a low float would keep back is in a curve that an evening taught without one.
        is_taught = self.night.lessons >= LESSONS and not self.sees_flow_down
        spare_mL = 0 if is_taught else self.settings[at("spare_mL")]
        return self.settings[at("volume_16_mL")] + spare_mL

    def begin(self, energy_mJ, down_uL, up_uL):
        """Take the totals of light and water [mJ, uL] as they stand at the start."""
        self.energy_mJ, self.down_uL, self.up_uL = energy_mJ, down_uL, up_uL

    def follow(self, values, state, now_ds, is_over, energy_mJ, down_uL, up_uL):
        """Reckon up to now: a scan's values, the state, uptime [0.1 s], totals [mJ, uL].

        is_over: the light has ended for want of water.  Return whether what is known of the
        water was unknown before [bool].
        """
        if now_ds < SURE_DS:
            self.looked_ds = now_ds
            return False
        was_known = self.is_known()
        is_full = values[C_71H_UP] == 0
        is_empty = values[C_71L_UP] == 0 or is_over
        sinks = self.was_full and not is_full
        if now_ds - self.looked_ds >= EVERY_DS or state != self.state or sinks or is_empty:
            seconds = (now_ds - self.looked_ds) // DS_PER_S
            self.looked_ds += seconds * DS_PER_S
            self._lift(seconds, up_uL)
            self._take(seconds, energy_mJ, down_uL)
            self.state = state
        if is_empty:
            self._end(values[C_71L_UP] == 0)
        elif is_full:
            self._lifted()
        elif sinks:
            self._sank()
        self.was_full = is_full
        return self.is_known() and not was_known

    def _pumps(self):
        return self.state == TRIAL or self.state == PUMPING

    def _lift(self, seconds, up_uL):
        """Add what came up, or may have."""
        up_mL = (up_uL - self.up_uL) // UL_PER_ML
        self.up_uL += up_mL * UL_PER_ML
        if self._pumps() or up_mL:
            self.given_mL = UNKNOWN
        if not self.is_known():
            return
        if self.sees_flow:
            self.low_mL += up_mL * (PERMILLE - self.settings[at("flow_permille")]) // PERMILLE
            self.high_mL += up_mL * (PERMILLE + self.settings[at("flow_permille")]) // PERMILLE
        elif self._pumps():
            self.high_mL += self.settings[at("lift_most_uL_s")] * seconds // UL_PER_ML
        self.high_mL = min(self.high_mL, self._most_full_mL())
        self.low_mL = min(self.low_mL, self.high_mL)

    def _take(self, seconds, energy_mJ, down_uL):
        """Take away what came down: by the meter, else by the light's energy."""
        if self.sees_flow_down:
            most_mL = least_mL = (down_uL - self.down_uL) // UL_PER_ML
            self.down_uL += most_mL * UL_PER_ML
            wrong = self.settings[at("flow_permille")]
        else:
            most_mL, least_mL = self._by_light(seconds, energy_mJ)
            wrong = self._wrong()
        if self.given_mL >= 0:
            self.given_mL += least_mL
        if not self.is_known():
            return
        self.low_mL = max(0, self.low_mL - most_mL * (PERMILLE + wrong) // PERMILLE)
        self.high_mL = max(self.low_mL, self.high_mL - least_mL * (PERMILLE - wrong) // PERMILLE)

    def _by_light(self, seconds, energy_mJ):
        """Return the water [mL] that went at most, and at least, by the curve as it is."""
        night = self.night
        if seconds <= 0:
            return 0, 0
        energy = energy_mJ - self.energy_mJ
        power_mW = energy // seconds
        if self.state == DRAINING:
            self.energy_mJ = energy_mJ
            self.given_mL = UNKNOWN
            # Nobody knows how much runs out without light.
            return self.settings[at("volume_16_mL")], 0
        if power_mW * DARK_PARTS >= night.full_mW:
            specific = night.specific_mJ_L(power_mW)
            taken_mL = energy * ML_PER_L // specific
            self.energy_mJ += taken_mL * specific // ML_PER_L  # the rest is of the next time
            return taken_mL, taken_mL
        self.energy_mJ = energy_mJ
        if self.state != RUNNING:
            return 0, 0
        # The lamps are all but dark: the wheel may turn for nothing, as for the full light.
        self.dark_s += seconds
        if self.dark_s > DARK_MOST_S:
            self.given_mL = UNKNOWN
        return night.full_mW * seconds * ML_PER_L // night.specific_mJ_L(night.full_mW), 0

    def _lifted(self):
        """The full float is lifted: full, unless less water than that can be there."""
        if self.is_doubted:
            return
        if self.is_known() and self.most_mL() < self.settings[at("full_sure_mL")]:
            self.is_doubted = True
            self.low_mL = self.high_mL = self.given_mL = UNKNOWN
        elif self.state != RUNNING or not self.is_known():
            self.low_mL = self.settings[at("full_sure_mL")]
            self.high_mL = self._most_full_mL()

    def _sank(self):
        """The full float has sunk just now: so much is there, and counting begins."""
        if self.is_doubted:
            self.is_doubted = False  # what it says next counts again
            return
        settings = self.settings
        self.low_mL = low_mL = settings[at("full_sure_mL")]
        self.high_mL = low_mL + self._most_full_mL() - settings[at("volume_16_mL")]
        self.given_mL = self.dark_s = 0

    def _end(self, is_dry):
        """No light comes any more: an evening has taught what a tank gives.

        is_dry: the low float says so.  Where water must be left by what is known, a nozzle, a
        hand valve or a wire may be the cause: that counts only when it comes again likewise.
        """
        given_mL, self.given_mL = self.given_mL, UNKNOWN
        is_odd = self.low_mL * ODD_PARTS > self.settings[at("full_sure_mL")]
        self.low_mL = 0
        if is_dry or not is_odd:
            self.high_mL = 0
        if given_mL <= 0 or self.sees_flow_down:
            return
        if is_odd:
            before_mL, self.odd_mL = self.odd_mL, given_mL
            if abs(given_mL - before_mL) * ODD_PARTS > given_mL:
                return
        self.night.scale(given_mL, self.settings[at("full_sure_mL")])

    # What a restart may find.

    def moves(self, sequence):
        """Return which way water may move: 1 up, 2 down, 0 neither."""
        state = sequence.state
        if state == RUNNING or state == CLOSING or state == DRAINING:
            return 2
        return 1 if sequence.start_mark != UNMARKED or state == TRIAL or state == PUMPING else 0

    def kept(self, sequence):
        """Return (low, high) [mL] that hold however long the board stands without power from now.

        Its pump stops with it; its valve may stay open.
        """
        if not self.is_known():
            return UNKNOWN, UNKNOWN
        way = self.moves(sequence)
        return 0 if way == 2 else self.low_mL, (
            self._most_full_mL() if way == 1 else self.high_mL)

    def restore(self, low_mL, high_mL):
        """Take what was kept [mL], if it can be."""
        settings = self.settings
        if 0 <= low_mL <= high_mL <= settings[at("volume_16_mL")] + settings[at("spare_mL")]:
            self.low_mL, self.high_mL = low_mL, high_mL
