"""What a keeper under replay reads and drives: the record, or the plant that goes on from it.

A valve that did as it was told stands where this keeper tells it.  Where the record is followed
out of step, a side reads as one does that runs, or rests, as this keeper has it.
"""

from forebay.replay.engine.modelled import Modelled
from forebay.twin.drive import Drive
from keeper import channels as ch
from keeper import modes
from keeper.boards import wiring
from keeper.clock import PERIOD_S

# What only reads something while its side runs.
PUMP = (ch.PUMP_MA, ch.PULSES_UP)
LIGHT = (ch.GENERATOR_MV, ch.GENERATOR_MA, ch.LAMP_MA, ch.PULSES_DOWN)
# A short press, and the pause behind it.
PRESS_SCANS, LET_GO_SCANS = 4, 2


class Board:
    """The keeper's board interface on the record, or on the plant that goes on from it."""

    def __init__(self, job, readings):
        """Take the job and its readings."""
        rig = job["rig"]
        self.readings = readings
        # The plant, once the keeper has parted from the record.
        self.model: Modelled | None = None
        self.tick = 0             # of the record that is read next
        self.goes_itself = rig["board.valve_kind"] not in wiring.MOTORS
        self.drive = Drive(rig["valve.travel_s"], rig["valve.coast_s"], rig["valve.backlash"])
        self.position = 0.0       # of a valve that does as it is told [-]
        self.hottest = ch.INVALID
        self.astray = False       # the record is followed out of step
        self.hidden = []          # places that the first scan cannot trust
        self.press_scans = 0      # for which somebody still presses and lets go, again and again
        self.outputs = [0] * len(ch.OUTPUTS)
        self.in_step = {PUMP: [0] * ch.READ, LIGHT: [0] * ch.READ}   # what was read last

    def read(self, values):
        """Fill `values` in the order of `keeper.channels`."""
        if self.model:
            self.model.read(values)
        else:
            readings = self.readings
            readings.fill(values, self.tick)
            if self.astray:
                self._suit(values)
            if readings.valve_off.at(self.tick):
                self.position = min(1.0, max(0.0, values[ch.VALVE_PERMILLE] * 1e-3))
            elif values[ch.VALVE_PERMILLE] > ch.INVALID + ch.CLIPPED + 2:
                values[ch.VALVE_PERMILLE] = int(self.position * 1000.0 + 0.5)
        for place in self.hidden:
            values[place] = ch.INVALID + ch.OUT_OF_RANGE
        self.hidden = []
        if self.press_scans:
            values[ch.BUTTON] = 1 if self.press_scans % PRESS_SCANS > LET_GO_SCANS else 0
            self.press_scans -= 1
        if values[ch.MOTOR_MDEGC] > self.hottest:
            self.hottest = values[ch.MOTOR_MDEGC]

    def press(self, times):
        """Let somebody press the button shortly, as often as `times` [-]."""
        self.press_scans += times * PRESS_SCANS

    def keep(self, values, state):
        """Keep what a side reads while it runs in step."""
        side = PUMP if state == modes.PUMPING else LIGHT
        self.in_step[side][:] = values[:ch.READ]

    def _suit(self, values):
        """Let each side read as a side does that runs, or rests, as the keeper has it."""
        for side, runs in ((PUMP, self.outputs[ch.OUT_PUMP]), (LIGHT, self.outputs[ch.OUT_VALVE])):
            for place in side:
                values[place] = self.in_step[side][place] if runs else 0

    def write(self, outputs):
        """Move the valve as `keeper.channels.OUTPUTS` says."""
        self.outputs[:] = outputs
        if self.model:
            self.model.write(outputs)
            return
        if self.goes_itself:
            most = PERIOD_S / self.drive.travel_s
            gap = outputs[ch.OUT_VALVE] * 1e-3 - self.position
            self.position += max(-most, min(most, gap))
            return
        if outputs[ch.OUT_DRIVE] or self.drive.on:
            self.drive.supply(outputs[ch.OUT_DRIVE] * 1e-3)
            self.position = min(1.0, max(0.0, self.position + self.drive.step(PERIOD_S)))

    def safe(self):
        """Drive every output safe: nothing is driven here."""
