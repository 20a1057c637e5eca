"""From the upper tank to the lamps: penstock, valve, nozzle, wheel, generator, lamps, clamp.

The flow is quasi-steady; the wheel keeps its momentum.  Heights are above the
nozzle [m].  Owns the energies that pass on this side.
"""

import math

from keeper.physics import turbine, valve
from keeper.physics.pipes import Pipe

SEAT_FRAC = 0.02     # below this travel an equal-percentage plug approaches its seat; a guess
PASCAL_PER_BAR = 1e5
KV_DENSITY_KG_M3 = 1000.0
S_PER_H = 3600.0
SAME_RAD_S = 1e-9    # the mean speed of a step is known to this
MOST_TRIALS = 20     # Newton's steps on a load of straight pieces: few are needed
FIRST_FLOW_M3_S = 1e-5   # the friction of the very first step is taken at this flow


class Downhill:
    """Penstock to lamps.  `step` leaves its results in attributes."""

    def __init__(self, rig, density_kg_m3, viscosity_m2_s, gravity_m_s2):
        """Take the rig as a dict "section.key_unit" and the water's properties [SI]."""
        self.density = density_kg_m3
        self.gravity = gravity_m_s2
        self.weight = density_kg_m3 * gravity_m_s2
        self.pipe = Pipe(rig["penstock.length_m"], rig["penstock.diameter_m"],
                         rig["penstock.roughness_m"], rig["penstock.minor_loss"],
                         viscosity_m2_s, gravity_m_s2)
        self.kvs = rig["valve.flow_coefficient_m3_h"]
        self.rangeability = rig["valve.rangeability"]
        self.equal_percentage = rig["valve.characteristic"] == "equal percentage"
        self.travel_s = rig["valve.travel_s"]
        self.position = 0.0      # valve travel, 0 shut to 1 open
        self.wanted = 0.0        # what the valve was last told
        self.seat_s2_m5 = 0.0    # the same of a leaking seat, 0 = tight
        self.valve_s2_m5 = 0.0   # head lost in the valve / flow^2, 0 = shut
        self._take_turbine(rig)
        self._take_generator(rig)
        self.lamps_connected = True   # False: their lead is open
        self.lamps_off = 0       # 1: the board takes them off the generator
        self.dump_on = 0         # 1: the board puts the dump load on it
        self.pipe_s2_m5 = self.pipe.loss_m(FIRST_FLOW_M3_S) / FIRST_FLOW_M3_S ** 2
        self.flow = 0.0
        self.speed = 0.0         # wheel, rad/s
        self.generator_V = 0.0   # after the rectifier
        self.generator_A = 0.0
        self.lamp_A = 0.0
        self.clamp_A = 0.0
        self.dump_A = 0.0
        self._open_books()

    def _open_books(self):
        """Set the energies since the start [J] and the volume to zero."""
        self.released_J = 0.0
        self.pipe_loss_J = 0.0
        self.valve_loss_J = 0.0
        self.nozzle_loss_J = 0.0
        self.bucket_loss_J = 0.0
        self.splash_loss_J = 0.0
        self.drag_loss_J = 0.0
        self.winding_loss_J = 0.0
        self.rectifier_loss_J = 0.0
        self.generator_J = 0.0
        self.lamp_J = 0.0
        self.clamp_J = 0.0
        self.dump_J = 0.0
        self.volume_m3 = 0.0

    def _take_turbine(self, rig):
        """Derive the constants of nozzle and wheel."""
        gravity_m_s2 = self.gravity
        self.area = turbine.nozzle_area_m2(rig["turbine.nozzle_diameter_m"], 1.0)
        self.velocity_frac = rig["turbine.nozzle_coefficient"]
        self.jet_s2_m5 = 1.0 / (2.0 * gravity_m_s2 * self.area ** 2)
        self.nozzle_s2_m5 = self.jet_s2_m5 * (1.0 / self.velocity_frac ** 2 - 1.0)
        self.bucket_k = rig["turbine.bucket_coefficient"]
        turned = math.radians(180.0 - rig["turbine.bucket_angle_deg"])
        self.turned_cos, self.turned_sin = math.cos(turned), math.sin(turned)
        self.hit = rig["turbine.hit_frac"]
        self.radius = rig["turbine.wheel_radius_m"]
        self.inertia = rig["turbine.inertia_kg_m2"]
        self.drag_Nm = rig["turbine.friction_torque_N_m"]

    def _take_generator(self, rig):
        """Take the constants of generator, clamp and lamps."""
        self.emf = rig["generator.emf_constant_V_s_rad"]
        self.winding = rig["generator.resistance_ohm"]
        self.drop_V = rig["generator.rectifier_drop_V"]
        self.clamp_V = rig["generator.clamp_voltage_V"]
        self.clamp_ohm = rig["generator.clamp_resistance_ohm"]
        self.lamp_V = rig["lamps.threshold_voltage_V"]
        self.winding_S = 1.0 / self.winding
        self.clamp_S = 1.0 / self.clamp_ohm
        self.lamp_S = 1.0 / rig["lamps.resistance_ohm"]
        self.dump_S = 1.0 / rig["generator.dump_resistance_ohm"]

    def idle(self):
        """Return whether nothing moves on this side."""
        return (self.position == 0.0 and self.wanted == 0.0 and self.speed == 0.0
                and not self.seat_s2_m5)

    def leak(self, flow_m3_s, head_m):
        """Let the seat pass a flow [m3/s] under a head [m] while the valve is shut."""
        self.seat_s2_m5 = head_m / flow_m3_s ** 2
        if self.position <= 0.0:
            self.valve_s2_m5 = self.seat_s2_m5

    def step(self, dt_s, head_m, water):
        """Advance `dt_s` [s] under `head_m` [m], the water level above the nozzle.

        water: it comes through from the tank.
        """
        if self.position != self.wanted:
            self._travel(dt_s)
        if self.valve_s2_m5 > 0.0 and water and head_m > 0.0:
            self._flow(dt_s, head_m)
        else:
            self.flow = 0.0
        self._turn(dt_s)

    def _travel(self, dt_s):
        """Move the valve towards where it was told, at its travel speed."""
        most = dt_s / self.travel_s
        gap = self.wanted - self.position
        self.position = self.wanted if -most <= gap <= most else (
            self.position + (most if gap > 0.0 else -most))
        if self.position <= 0.0:
            self.valve_s2_m5 = self.seat_s2_m5
            return
        if self.equal_percentage:
            share = valve.equal_percentage_frac(self.position, self.rangeability)
        else:
            share = valve.linear_frac(self.position, self.rangeability)
        if self.position < SEAT_FRAC:
            share *= self.position / SEAT_FRAC
        kv = self.kvs * share
        self.valve_s2_m5 = (S_PER_H / kv) ** 2 * PASCAL_PER_BAR / (KV_DENSITY_KG_M3 * self.gravity)

    def _flow(self, dt_s, head_m):
        """Solve the penstock's flow and book what pipe, valve and nozzle take."""
        flow = math.sqrt(head_m / (self.pipe_s2_m5 + self.valve_s2_m5 + self.nozzle_s2_m5
                                   + self.jet_s2_m5))
        self.flow = flow
        cubed = self.weight * flow * flow * flow * dt_s
        self.released_J += self.weight * flow * head_m * dt_s
        self.pipe_loss_J += self.pipe_s2_m5 * cubed
        self.valve_loss_J += self.valve_s2_m5 * cubed
        self.nozzle_loss_J += self.nozzle_s2_m5 * cubed
        self.volume_m3 += flow * dt_s
        self.pipe_s2_m5 = self.pipe.loss_m(flow) / (flow * flow)

    def _turn(self, dt_s):
        """Turn the wheel for one step: jet, buckets, drag and generator.

        Euler's equation for the buckets; the water that misses them is the
        splash.  The step takes the torque at its middle speed.
        """
        flow = self.flow
        before = self.speed
        if before == 0.0 and flow == 0.0:
            self.generator_V = self.generator_A = self.lamp_A = self.clamp_A = 0.0
            self.dump_A = 0.0
            return
        jet = flow / self.area
        hitting = self.hit * self.density * flow
        factor = 1.0 + self.bucket_k * self.turned_cos
        # Water slower than the wheel does not reach it.
        radius, emf = self.radius, self.emf
        hits = jet > before * radius
        push = hitting * factor * radius if hits else 0.0
        # d torque / d speed is taken at the start, the torque then at the middle
        # speed: a half-implicit step that stays stable at any gain.
        self._electric(before)
        slope = push * radius + self._load_slope()
        drag = self.drag_Nm
        driving = push * (jet - before * radius) - emf * self.generator_A - drag
        change = driving * dt_s / (self.inertia + 0.5 * dt_s * slope)
        middle = before + 0.5 * change
        if middle < 0.0:
            middle = 0.0
        for _ in range(MOST_TRIALS):
            self._electric(middle)
            torque = push * (jet - middle * radius) - emf * self.generator_A
            after = before + (torque - drag) * dt_s / self.inertia
            # Where a lamp or the clamp begins, it was not as foreseen.
            off = 0.5 * (before + after) - middle
            if -SAME_RAD_S < off < SAME_RAD_S:
                break
            slope = push * radius + self._load_slope()
            middle += off / (1.0 + 0.5 * slope * dt_s / self.inertia)
        if after < 0.0:
            after = 0.0
            middle = 0.5 * before
            self._electric(middle)
            torque = push * (jet - middle * radius) - emf * self.generator_A
        if after == 0.0:
            # It stands, or stops within this step: drag takes just what is left.
            drag = torque + self.inertia * before / dt_s
        self.speed = after
        self._account(dt_s, middle, jet, hits, drag)

    def _load_slope(self):
        """Return d torque / d speed [N m s] of the generator, at what it drives now."""
        if self.generator_A <= 0.0:
            return 0.0
        conductance = self.lamp_S if self.lamp_A > 0.0 else 0.0
        if self.clamp_A > 0.0:
            conductance += self.clamp_S
        if self.dump_on:
            conductance += self.dump_S
        return self.emf * self.emf / (self.winding + 1.0 / conductance)

    def _electric(self, speed):
        """Solve the generator's node at a speed [rad/s]: lamps, clamp, dump load."""
        source = self.emf * speed - self.drop_V
        lamp_S = self.lamp_S if self.lamps_connected and not self.lamps_off else 0.0
        lamp_V, dump_on = self.lamp_V, self.dump_on
        given_A = source / self.winding
        all_S = self.winding_S
        if dump_on and source > 0.0:
            all_S += self.dump_S
        # With the clamp at rest; the generator sees only dump load and lamps.
        volts = given_A / all_S
        if lamp_S and volts > lamp_V:
            given_A += lamp_V * lamp_S
            all_S += lamp_S
            volts = given_A / all_S
        clamp_A = dump_A = lamp_A = 0.0
        if volts > self.clamp_V:
            clamp_S = self.clamp_S
            volts = (given_A + self.clamp_V * clamp_S) / (all_S + clamp_S)
            clamp_A = (volts - self.clamp_V) * clamp_S
        if volts > lamp_V:
            lamp_A = (volts - lamp_V) * lamp_S
        if dump_on and volts > 0.0:
            dump_A = volts * self.dump_S
        self.clamp_A, self.dump_A, self.lamp_A = clamp_A, dump_A, lamp_A
        self.generator_A = lamp_A + clamp_A + dump_A
        self.generator_V = volts if volts > 0.0 else 0.0

    def _account(self, dt_s, speed, jet, hits, drag):
        """Book each loss of the step by its own law; `speed` is the mean speed [rad/s]."""
        flow, amps, volts = self.flow, self.generator_A, self.generator_V
        if flow > 0.0:
            stream = 0.5 * self.density * flow * dt_s
            if hits:
                bucket = speed * self.radius
                into = jet - bucket
                out = self.bucket_k * into
                along = bucket - out * self.turned_cos
                across = out * self.turned_sin
                self.bucket_loss_J += self.hit * stream * (
                    into * into - out * out + along * along + across * across)
                self.splash_loss_J += (1.0 - self.hit) * stream * jet * jet
            else:
                self.splash_loss_J += stream * jet * jet
        self.drag_loss_J += drag * speed * dt_s
        if amps <= 0.0:
            return
        self.winding_loss_J += self.winding * amps * amps * dt_s
        self.rectifier_loss_J += self.drop_V * amps * dt_s
        self.generator_J += volts * amps * dt_s
        self.lamp_J += volts * self.lamp_A * dt_s
        if self.clamp_A:
            self.clamp_J += volts * self.clamp_A * dt_s
        if self.dump_A:
            self.dump_J += volts * self.dump_A * dt_s

    def losses_J(self):
        """Return the sum of what was lost between the released water and the lamps' node [J]."""
        return (self.pipe_loss_J + self.valve_loss_J + self.nozzle_loss_J + self.bucket_loss_J
                + self.splash_loss_J + self.drag_loss_J + self.winding_loss_J
                + self.rectifier_loss_J)

    def kinetic_J(self):
        """Return the energy in the turning wheel [J]."""
        return 0.5 * self.inertia * self.speed * self.speed
