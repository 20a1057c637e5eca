"""The plant: both sides, the tanks, heat and the sun, advanced together.

`step` moves the true state and keeps the books that module `books` adds up.
A board's outputs reach it through `command`; what acts without a board (floats
in the pump's supply, thermostat, local stop, hand valves) is here.
"""

from forebay.twin import books
from forebay.twin.downhill import Downhill
from forebay.twin.frost import Frost
from forebay.twin.store import Battery, Float, Pipeful, Tank
from forebay.twin.uphill import Uphill
from keeper.boards import wiring
from keeper.physics import of_rig

MINUTE_S = 60.0
SUN_STEP_S = 1.0        # the sun, and all that is slow, is followed once a second
# The thermostat in the pump's supply opens so far over 26-MOT, and closes so
# much cooler again; common practice, no source.
THERMOSTAT_K, THERMOSTAT_BACK_K = 15.0, 15.0
OPEN_FRAC = 0.1         # a valve that lets a pipe run empty
LEAST_WATER_M3 = 1e-4   # below this a tank counts as empty


class Plant:
    """True state of a rig under a day of sun."""

    def __init__(self, rig, sun):
        """Take the rig as a dict "section.key_unit" and the sun: poa, cell, air by the minute."""
        water = of_rig.water(rig)
        self.water_degC = rig["site.water_temperature_degC"]
        self.up = Uphill(rig, *water)
        self.down = Downhill(rig, *water)
        self.weight = self.down.weight
        self.upper = Tank(rig, "upper", rig["upper.overflow_volume_m3"], self.weight)
        self.lower = Tank(rig, "lower", None, self.weight)
        self.inlet_m = rig["upper.inlet_height_m"]
        self.battery = Battery(rig)
        self._take_floats(rig)
        self.motor = motor = of_rig.motor_heat(rig)
        # A motor that cools within such a step is followed in every scan.
        self.quick = motor.still_K_W * motor.heat_J_K < SUN_STEP_S
        self.inflow_m3_s = rig["lower.inflow_m3_s"]
        self.poa, self.cell, self.air = sun
        self.air_degC = self.air[0]
        self.cloud = None              # a function of time that replaces the sun, or None
        self.jacket_blocked = False
        self.sensor_loose = False      # the motor's sensor hangs in the water
        self._take_hardware(rig)
        self.board_on = True
        self.pump_commanded = 0
        self.time_s = 0.0
        self.next_sun_s = 0.0
        self.slow_s = 0.0              # time up to which what is slow has been followed
        self.dark_s = 0.0              # time of darkness that battery and motor still lack
        self.drop_J = 0.0              # water falling into a tank or a pipe
        self.charger_loss_J = 0.0
        self.inflow_m3 = 0.0
        self.inflow_J = 0.0
        self.start_m3 = books.held_m3(self)
        self.start_J = books.potential_J(self)

    def _take_floats(self, rig):
        """Set the five floats at the levels of their volumes."""
        def at(tank, name, hysteresis, offset=0.0):
            level = tank.shape.level_m(rig[name]) + offset
            return Float(level, hysteresis, tank)

        up, low = rig["upper.float_hysteresis_m"], rig["lower.float_hysteresis_m"]
        self.full = at(self.upper, "upper.full_volume_m3", up)
        self.over_full = at(self.upper, "upper.over_full_volume_m3", up)
        # A low float hangs dry at its volume and floats again a little higher.
        self.upper_wet = at(self.upper, "upper.empty_volume_m3", up, up)
        self.lower_wet = at(self.lower, "lower.low_volume_m3", low, low)
        self.lower_full = at(self.lower, "lower.full_volume_m3", low)

    def _take_hardware(self, rig):
        """Set up what acts without a board, and what can fail in it."""
        self.frost = Frost(self.water_degC)
        self.frosty_degC = None        # air of a frost that replaces the day's, or None
        self.thermostat_degC = rig["motor.trip_temperature_degC"] + THERMOSTAT_K
        self.thermostat_open = False
        self.stop_pressed = False      # local stop
        self.pump_lead_open = False
        self.panel_lead_open = False
        self.pump_path = True          # the pump's supply, but for the over-full float
        self.welded = False            # the pump's switch does not open
        self.air_in_pump = False
        self.tank_valve_open = True    # hand valve at the tank's outlet
        self.shed_valve_open = True    # hand valve before the turbine
        self.penstock_open = True
        self.contacts_new = True       # a float or the stop may have moved since the last scan
        # A servo, or no valve's motor of ours: it goes where it is told.
        self.goes_itself = rig["board.valve_kind"] not in wiring.MOTORS
        self.motor_W = rig["valve.motor_power_W"]
        self.valve_forced = None       # where the valve goes whatever the board wants, or None
        self.drive_s_ms = 0.001        # of the valve's motor; turned round by swapped leads
        self.valve_runs_to = None      # where a fault drives it, past which the stop still shuts
        self.leak_m3_s = 0.0           # out of the upper tank
        self.siphon_m3_s = 0.0         # back through the rising main
        self.penstock = Pipeful(rig, self.upper.base_m, self.weight)

    def rewire(self):
        """Follow a change of stop, thermostat, leads, hand valves or what drives the valve."""
        self.contacts_new = True
        self.pump_path = not (self.stop_pressed or self.thermostat_open or self.pump_lead_open)
        self.penstock_open = self.tank_valve_open and self.shed_valve_open
        self.valve_forced = 0.0 if self.stop_pressed else self.valve_runs_to

    def press_stop(self, pressed):
        """Press or release the local stop: pump off, valve driven shut, board or no board."""
        self.stop_pressed = pressed
        if pressed:
            self.down.commanded = 0.0
        self.rewire()

    def freeze(self, air_degC):
        """Let the air be as cold as this [degC] from now on."""
        self.frosty_degC = air_degC

    def command(self, pump, valve_permille, lamps_off=0, dump=0, drive_ms=0):
        """Take what the board drives: valve [permille], 0 or 1, its motor's time [ms]."""
        self.pump_commanded = pump
        down = self.down
        if self.valve_forced is not None:
            down.commanded = self.valve_forced
        elif self.goes_itself:
            down.commanded = valve_permille * 0.001
        else:
            down.commanded = None
            if drive_ms or down.drive.on:
                down.drive.supply(drive_ms * self.drive_s_ms)
        down.lamps_off = lamps_off
        down.dump_on = dump

    def step(self, dt_s):
        """Advance the true state by `dt_s` [s]."""
        if self.time_s >= self.next_sun_s:
            self._follow_slowly()
        upper, lower = self.upper, self.lower
        up, down = self.up, self.down
        if up.light > 0.0:
            self._pump(dt_s, upper, lower)
        elif up.panel_V or up.panel_A:
            up.step(dt_s, False, 0.0, 0.0, 0.0, False)
        if down.position or down.commanded or down.drive.on or down.speed or down.seat_s2_m5:
            self._let_down(dt_s, upper, lower)
        if self.inflow_m3_s:
            self._inflow(dt_s, lower)
        if up.light > 0.0 or self.quick:
            self.battery.step(dt_s, up.charge_A, self.board_on)
            self.charger_loss_J += (up.panel_V - self.battery.volts) * up.charge_A * dt_s
            self._heat(dt_s)
        else:
            self.dark_s += dt_s  # the battery only carries the board, the motor only cools
        self.time_s += dt_s

    def _pump(self, dt_s, upper, lower):
        """Lift water.  The over-full float breaks the pump's supply, board or no board."""
        up = self.up
        connected = (self.pump_commanded or self.welded) and self.pump_path and (
            not self.over_full.up)
        lift = self.inlet_m - lower.base_m - lower.level_m
        up.step(dt_s, connected, lift, self.battery.volts, self.battery.appetite(),
                lower.volume_m3 > LEAST_WATER_M3 and not self.air_in_pump)
        if up.flow > 0.0:
            volume = up.flow * dt_s
            calm = lower.add(-volume)
            self.drop_J += self.weight * volume * (self.inlet_m - upper.base_m - upper.level_m)
            if not (upper.add(volume) and calm):
                self._floats()

    def _let_down(self, dt_s, upper, lower):
        """Let water down through the turbine; it falls from the nozzle into the lower tank."""
        down = self.down
        if down.drive.left_s:
            self.battery.owed_J += self.motor_W * min(abs(down.drive.left_s), dt_s)
        down.step(dt_s, upper.base_m + upper.level_m,
                  upper.volume_m3 > LEAST_WATER_M3 and self.penstock_open)
        if down.flow > 0.0:
            volume = down.flow * dt_s
            calm = upper.add(-volume)
            self.drop_J += self.weight * volume * -(lower.base_m + lower.level_m)
            if not (lower.add(volume) and calm):
                self._floats()

    def _inflow(self, dt_s, lower):
        volume = self.inflow_m3_s * dt_s
        self.inflow_m3 += volume
        self.inflow_J += lower.bring(volume)
        self._floats()

    def _floats(self):
        """Let the floats follow the levels; between two of their marks none of them moves."""
        upper, lower = self.upper, self.lower
        if not upper.calm_from_m <= upper.level_m < upper.calm_to_m:
            upper.follow(self.full, self.over_full, self.upper_wet)
            self.contacts_new = True
        if not lower.calm_from_m <= lower.level_m < lower.calm_to_m:
            lower.follow(self.lower_wet, self.lower_full)
            self.contacts_new = True

    def hold_float(self, one, up):
        """Hold a float up or down by hand, or let it go: None."""
        one.held = up is not None
        if one.held:
            one.up = up
        # Which of them moves next must be found anew.
        for tank in (self.upper, self.lower):
            tank.calm_from_m = tank.calm_to_m = 0.0
        self._floats()
        self.contacts_new = True

    def drain_lower(self):
        """Take the lower tank's water and inflow away, as a fault does."""
        self.lower.empty()
        self.inflow_m3_s = 0.0
        self._floats()

    def _heat(self, dt_s):
        """Warm the motor, cooled through the jacket while water flows, else by still air."""
        up, motor = self.up, self.motor
        near_degC = self.water_degC if self.sensor_loose else None
        if up.flow > 0.0 and not self.jacket_blocked:
            motor_degC = motor.warm(dt_s, up.motor_loss_W, self.water_degC, motor.cooled_K_W,
                                    near_degC)
        else:
            motor_degC = motor.warm(dt_s, up.motor_loss_W, self.air_degC, motor.still_K_W,
                                    near_degC)
        if self.thermostat_open:
            if motor_degC < self.thermostat_degC - THERMOSTAT_BACK_K:
                self.thermostat_open = False
                self.rewire()
        elif motor_degC > self.thermostat_degC:
            self.thermostat_open = True
            self.rewire()

    def _follow_slowly(self):
        """Follow the sun, the air, the coldest pipe and leaks; in the dark battery and motor."""
        passed_s = self.time_s - self.slow_s
        self.slow_s = self.time_s
        if self.dark_s:
            self.battery.step(self.dark_s, 0.0, self.board_on)
            self._heat(self.dark_s)
            self.dark_s = 0.0
        self._follow_sun()
        down, frost = self.down, self.frost
        if down.flow > 0.0 and not frost.full:
            self.penstock.fill(self.upper)   # before any comes through
            self._floats()
        was_full = frost.full
        frost.step(passed_s, self.air_degC, self.water_degC, down.flow > 0.0 or self.up.flow > 0.0,
                   down.position > OPEN_FRAC and self.shed_valve_open and (
                       not self.tank_valve_open or self.upper.volume_m3 <= LEAST_WATER_M3))
        if was_full and not frost.full:
            self.penstock.empty(self.lower)
            self._floats()
        if self.leak_m3_s or self.siphon_m3_s:
            self._leak(passed_s)

    def _leak(self, passed_s):
        """Let water out of the upper tank where it should not go."""
        upper, lower = self.upper, self.lower
        upper.lose(self.leak_m3_s * passed_s)
        if self.up.flow <= 0.0:
            volume = min(self.siphon_m3_s * passed_s, upper.volume_m3)
            self.drop_J -= upper.bring(-volume) + lower.bring(volume)
        self._floats()

    def _follow_sun(self):
        """Set the sun of this moment, between two minutes of the day."""
        self.next_sun_s = self.time_s + (SUN_STEP_S if self.cloud is None else 0.0)
        poa, cell, air = self.poa, self.cell, self.air
        minute = min(self.time_s / MINUTE_S, len(poa) - 1.0)
        before = min(int(minute), len(poa) - 2)
        after, part = before + 1, minute - before
        self.air_degC = air[before] + (air[after] - air[before]) * part
        if self.frosty_degC is not None:
            self.air_degC = self.frosty_degC
        irradiance = poa[before] + (poa[after] - poa[before]) * part
        if self.cloud is not None:
            replaced = self.cloud(self.time_s)
            if replaced is not None:
                irradiance = replaced
        self.up.shine(0.0 if self.panel_lead_open else irradiance,
                      cell[before] + (cell[after] - cell[before]) * part)

    def mass_error(self):
        """Return the water that the books cannot place, as a share of all water [-]."""
        return books.mass_error(self)

    def energy_error(self):
        """Return the energy that the books cannot place, as a share of what moved [-]."""
        return books.energy_error(self)
