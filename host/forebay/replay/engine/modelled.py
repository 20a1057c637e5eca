"""The simulated rig that goes on where a keeper under replay has parted from the record.

It begins in the state that the record shows, under the span's own sun.  Where what was read
and what the model gives for it differ then, the difference stays: a ratio of each flow and
current of the side that runs, an offset of what is slow, the motor's resistance to its cooling
fitted to the minutes before.  Runs in the simulation's process, on any Python from 3.9.
"""

from forebay.replay.engine.aligning import PUMPS
from forebay.replay.engine.following import TICKS_PER_S
from forebay.twin.plant import Plant
from forebay.twin.sensors import Sensors
from keeper import channels as ch
from keeper import modes
from keeper import settings as st
from keeper.clock import PERIOD_S
from keeper.physics import of_rig

MILLI = 1e-3
UPHILL = (ch.PANEL_MV, ch.PANEL_MA, ch.PUMP_MA)
DOWNHILL = (ch.GENERATOR_MV, ch.GENERATOR_MA, ch.LAMP_MA)
# What a model must give at least for a ratio to say something [the channel's unit]; guesses.
LEAST = {ch.PANEL_MV: 1000, ch.PANEL_MA: 50, ch.PUMP_MA: 50, ch.FLOW_UP: 5000,
         ch.GENERATOR_MV: 1000, ch.GENERATOR_MA: 10, ch.LAMP_MA: 10, ch.FLOW_DOWN: 5000}
MOST_RATIO = 20.0
WARM_UP_STEPS = 150       # of 0.1 s, until pump or wheel run as they do; put back afterwards
FIT_S, FIT_LEAST_S = 180, 40
FACTORS = [1.08 ** step for step in range(-30, 41)]   # of the motor's resistance: 0.1 to 20
ALIKE_M = 0.01            # of level: two of the level's uncertainties, as the demo's has
CALM_TICKS = 60 * TICKS_PER_S


class Modelled:
    """A plant under a keeper, from one tick on.

    Attributes: doubt, what is known of how far it may be off, by key.
    """

    def __init__(self, job, readings, tick, state, position, runs):
        """Begin where `readings` stand at `tick`, in a state, the valve at a position [-]."""
        self.readings, self.tick, self.state = readings, tick, state
        self.runs = runs
        self.rig = rig = dict(job["rig"])
        self.both_m3 = job["both_m3"]
        self.sun_tick = job["sun_tick"]
        self.fitted = job["settings"][st.index("fitted")]
        self.has_level = self.fitted >> ch.LEVEL_MM & 1
        upper_m3 = self._upper_m3(job, tick)
        rig["upper.start_volume_m3"] = upper_m3
        rig["lower.start_volume_m3"] = max(0.0, min(
            of_rig.tank(rig, "lower.").capacity_m3, self.both_m3 - upper_m3))
        rig["supply.start_charge_frac"] = self._charge(rig, tick)
        self.plant = Plant(rig, job["sun"])
        self.sensors = Sensors(rig, self.plant, job["seed"], self.fitted)
        self.ratio = [1.0] * ch.COLUMNS
        self.offset = [0] * ch.COLUMNS
        self.doubt = {}
        self.contacts = {}
        self._take_up(position)

    # Where it begins

    def _upper_m3(self, job, tick):
        if not self.has_level:
            return job["upper_m3"]
        shape = of_rig.tank(self.rig, "upper.")
        level_m = max(0.0, self.readings.lines[ch.LEVEL_MM].at(tick) * MILLI)
        return min(shape.capacity_m3, shape.volume_m3(level_m))

    def _charge(self, rig, tick):
        """Return the battery's charge [-]: by the supply's voltage it is told but roughly."""
        from forebay.twin.store import OPEN_LOW_FRAC, OPEN_SPAN_FRAC

        volts = self.readings.lines[ch.SUPPLY_MV].at(tick) * MILLI
        amps = self.readings.lines[ch.SUPPLY_MA].at(tick) * MILLI
        frac = (volts - amps * rig["supply.resistance_ohm"]) / rig["supply.voltage_V"]
        return max(0.05, min(1.0, (frac - OPEN_LOW_FRAC) / OPEN_SPAN_FRAC))

    def _take_up(self, position):
        """Let the plant run as the record has it, compare the two, and hand it to the keeper."""
        plant, readings, tick = self.plant, self.readings, self.tick
        plant.pump_commanded = 1 if self.state in PUMPS else 0
        degC = readings.lines[ch.MOTOR_MDEGC].at(tick) * MILLI
        plant.frost.degC = readings.lines[ch.WATER_MDEGC].at(tick) * MILLI
        recorded = readings.lines[ch.VALVE_PERMILLE].at(tick) * MILLI
        lit = self.state == modes.RUNNING and self.fitted >> ch.VALVE_PERMILLE & 1
        self._warm_up(min(1.0, max(0.0, recorded)) if lit else position)
        plant.motor.degC = plant.motor.felt_degC = degC
        self._carry()
        self._fit_motor()
        if lit:
            self._warm_up(position)
        self._set_floats()
        plant.contacts_new = True

    def _warm_up(self, position):
        """Let what runs come to run, the valve at a position [-], at the moment of the begin."""
        plant = self.plant
        plant.down._place(position)
        plant.down.commanded = position if plant.goes_itself else None
        volumes = plant.upper.volume_m3, plant.lower.volume_m3
        self._set_clock()
        for _ in range(WARM_UP_STEPS):
            plant.step(PERIOD_S)
        plant.upper.add(volumes[0] - plant.upper.volume_m3)
        plant.lower.add(volumes[1] - plant.lower.volume_m3)
        self._set_clock()

    def _set_clock(self):
        plant = self.plant
        plant.time_s = plant.slow_s = plant.next_sun_s = (
            self.tick - self.sun_tick) / TICKS_PER_S
        plant._follow_sun()

    def _carry(self):
        """Keep the differences between what was read and what the model reads."""
        readings, tick = self.readings, self.tick
        found = [0] * (ch.READ + 64)
        for _ in range(len(self.sensors.polled)):
            self.sensors.read(found)
        side = UPHILL if self.state in PUMPS else DOWNHILL if self.state == modes.RUNNING else ()
        for place in side:
            self._ratio(place, found[place])
        flow = self.plant.up.flow if side is UPHILL else self.plant.down.flow
        if side:
            self._ratio(ch.FLOW_UP if side is UPHILL else ch.FLOW_DOWN, flow * 1e9)
        for place in (ch.SUPPLY_MV, ch.LEVEL_MM, ch.MOTOR_MDEGC, ch.WATER_MDEGC):
            if found[place] > ch.INVALID + ch.CLIPPED + 2:
                self.offset[place] = int(readings.lines[place].at(tick)) - found[place]

    def _ratio(self, place, model):
        read = self.readings.lines[place].at(self.tick)
        if model >= LEAST[place]:
            self.ratio[place] = max(0.0, min(MOST_RATIO, read / model))
            self.doubt[ch.CHANNELS[place][ch.CH_NAME]] = round(self.ratio[place], 4)

    def _fit_motor(self):
        """Fit the resistance between motor and cooling to the minutes of the run before."""
        run = next((one for one in self.runs if one[0] <= self.tick <= one[1]), None)
        if run is None or self.state not in PUMPS:
            return
        seconds = min(FIT_S, (self.tick - run[0]) // TICKS_PER_S)
        if seconds < FIT_LEAST_S:
            return
        share = self.plant.up.motor_loss_W / max(
            1e-6, self.plant.up.panel_V * self.plant.up.pump_A)
        lines = self.readings.lines
        course = []
        for back in range(seconds, -1, -1):
            at = self.tick - back * TICKS_PER_S
            watts = lines[ch.PANEL_MV].at(at) * lines[ch.PUMP_MA].at(at) * 1e-6
            course.append((watts * share, lines[ch.MOTOR_MDEGC].at(at) * MILLI))
        (off_K, ahead_K), factor = min((self._misfit(course, factor), factor)
                                       for factor in FACTORS)
        # Neither flow nor jacket is asked: what the motor showed is how it is cooled now.
        motor = self.plant.motor
        motor.cooled_K_W *= factor * course[-1][0] / max(1e-6, self.plant.up.motor_loss_W)
        motor.degC = motor.felt_degC + ahead_K
        self.doubt["motor_K"] = round(off_K, 3)
        self.doubt["motor_resistance_ratio"] = round(factor, 3)

    def _misfit(self, course, factor):
        """Return the root mean square [K] by which a motor so cooled misses the record, and how
        far it then is ahead of its sensor [K].
        """
        motor = self.plant.motor
        resistance = motor.cooled_K_W * factor
        # The motor is ahead of its sensor by its slope times the lag.
        slope = (course[10][1] - course[0][1]) / 10.0
        degC, felt = course[0][1] + slope * motor.lag_s, course[0][1]
        total = 0.0
        for watts, read in course:
            total += (felt - read) ** 2
            degC += (watts - (degC - self.plant.water_degC) / resistance) / motor.heat_J_K
            felt += (degC - felt) * min(1.0, 1.0 / motor.lag_s)
        return (total / len(course)) ** 0.5, degC - felt

    def _set_floats(self):
        """Let the floats stand as the record says; one that its level contradicts stays so."""
        plant, contacts, tick = self.plant, self.readings.contacts, self.tick
        pairs = ((ch.C_71H_UP, plant.full, plant.upper, 0), (ch.C_71HH_UP, plant.over_full,
                                                             plant.upper, 0),
                 (ch.C_71L_UP, plant.upper_wet, plant.upper, 1),
                 (ch.C_71L_LO, plant.lower_wet, plant.lower, 1),
                 (ch.C_71H_LO, plant.lower_full, plant.lower, 0))
        for place, one, tank, closed_if_up in pairs:
            closed = contacts[place - ch.COLUMNS].at(tick)
            is_up = bool(closed) == bool(closed_if_up)
            one.up = is_up
            near = abs(tank.level_m - one.level_m) < one.hysteresis_m + ALIKE_M
            one.follow(tank.level_m)
            if one.up != is_up:
                if near:
                    one.up = is_up
                else:
                    self.contacts[place] = closed
        for tank in (plant.upper, plant.lower):
            tank.calm_from_m = tank.calm_to_m = 0.0   # their rests are those of before
        plant._floats()

    # As a board

    def step(self):
        """Let the plant pass a scan's time; the flow is as far off as it was read."""
        plant = self.plant
        self.tick += 1
        plant.step(PERIOD_S)
        more = (self.ratio[ch.FLOW_UP] - 1.0) * plant.up.flow * PERIOD_S
        less = (self.ratio[ch.FLOW_DOWN] - 1.0) * plant.down.flow * PERIOD_S
        if more or less:
            plant.upper.add(more - less)
            plant.lower.add(less - more)
            plant._floats()

    def read(self, values):
        """Fill `values` as the board would."""
        plant = self.plant
        self.sensors.read(values)
        self.sensors.hold(values)
        for place, value in enumerate(values[:ch.COLUMNS]):
            if value > ch.INVALID + ch.CLIPPED + 2:
                if self.ratio[place] != 1.0 and self._runs(place):
                    value = int(value * self.ratio[place])
                values[place] = value + self.offset[place]
        for place, flow in ((ch.PULSES_UP, plant.up.flow * self.ratio[ch.FLOW_UP]),
                            (ch.PULSES_DOWN, plant.down.flow * self.ratio[ch.FLOW_DOWN])):
            self.readings.count(values, place, flow * 1e9)
        values[ch.C_71H_UP] = 0 if plant.full.up else 1
        values[ch.C_71HH_UP] = 0 if plant.over_full.up else 1
        values[ch.C_71L_UP] = 1 if plant.upper_wet.up else 0
        values[ch.C_71L_LO] = 1 if plant.lower_wet.up else 0
        values[ch.C_71H_LO] = 0 if plant.lower_full.up else 1
        for place, closed in self.contacts.items():
            values[place] = closed
        # What a person does at the rig, and what cannot be trusted, is as it was.
        for place in (ch.BUTTON, ch.C_STOP):
            values[place] = self.readings.contacts[place - ch.COLUMNS].at(self.tick)
        values[ch.LOOP_71HH] = self.readings.loop.at(self.tick)
        self.readings.distrust(values, self.tick)

    def _runs(self, place):
        """Return whether the side of a channel runs, so that its ratio holds [bool]."""
        return self.plant.pump_commanded if place in UPHILL else self.plant.down.position > 0.0

    def write(self, outputs):
        """Drive the plant."""
        self.plant.command(*outputs)

    def agrees(self, state_for, alike):
        """Return whether the record can take over again: all stands alike, and has for a while.

        state_for: scans for which the keeper has stood still; alike: locked out and held off
        as in the record.
        """
        if not (alike and self.has_level and state_for >= CALM_TICKS):
            return False
        run = next((one for one in self.runs if one[0] <= self.tick <= one[1]), None)
        if run is None or run[2] != modes.STANDSTILL or self.tick - run[0] < CALM_TICKS:
            return False
        level_m = self.readings.lines[ch.LEVEL_MM].at(self.tick) * MILLI
        return abs(level_m - self.plant.upper.level_m) <= ALIKE_M
