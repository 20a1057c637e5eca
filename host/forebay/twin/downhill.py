"""From the upper tank to the lamps: a turbine set, its valve's drive, its inertia, its books.

The machine is `keeper.physics.generation`, its flow quasi-steady; here the valve
travels, the wheel keeps its momentum, and the energies that pass on this side
are booked.  Heights are above the nozzle [m].
"""

from forebay.twin.drive import Drive
from keeper.physics.generation import TurbineSet
from keeper.physics.of_rig import turbine_set
from keeper.physics.pipes import LEAST_FLOW_M3_S

SAME_RAD_S = 1e-9    # the mean speed of a step is known to this
MOST_TRIALS = 20     # Newton's steps on a load of straight pieces: few are needed


class Downhill(TurbineSet):
    """Penstock to lamps.  `step` leaves its results in attributes."""

    def __init__(self, rig, density_kg_m3, viscosity_m2_s, gravity_m_s2):
        """Take the rig as a dict "section.key_unit" and the water's properties [SI]."""
        TurbineSet.__init__(self, *turbine_set(rig, density_kg_m3, viscosity_m2_s, gravity_m_s2))
        self.drive = Drive(rig["valve.travel_s"], rig["valve.coast_s"], rig["valve.backlash"])
        self.position = 0.0      # valve travel, 0 shut to 1 open
        # Where something else than the valve's motor takes it; None = nothing does.
        self.commanded: float | None = 0.0
        self.seat_s2_m5 = 0.0    # head lost in a leaking seat / flow^2, 0 = tight
        self.inertia = rig["turbine.inertia_kg_m2"]
        self.middle = 0.0        # speed of the wheel half-way through the last step, rad/s
        # energies since the start [J]
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

    def idle(self):
        """Return whether nothing moves on this side."""
        return not (self.position or self.commanded or self.drive.on or self.speed
                    or self.seat_s2_m5)

    def leak(self, flow_m3_s, head_m):
        """Let the seat pass a flow [m3/s] under a head [m] while the valve is shut."""
        self.seat_s2_m5 = head_m / flow_m3_s ** 2
        if self.position <= 0.0:
            self.valve_s2_m5 = self.seat_s2_m5

    def step(self, dt_s, head_m, water):
        """Advance `dt_s` [s] under `head_m` [m], the water level above the nozzle.

        water: it comes through from the tank.
        """
        if self.commanded is None:
            if self.drive.on:
                self._place(self.position + self.drive.step(dt_s))
        elif self.position != self.commanded:
            self._travel(dt_s, self.commanded)
        if self.valve_s2_m5 > 0.0 and water and head_m > 0.0:
            flow = self.fall_m3_s(head_m)
            weight_N = self.weight * flow
            cubed = weight_N * flow * flow * dt_s
            self.released_J += weight_N * head_m * dt_s
            self.pipe_loss_J += self.pipe_s2_m5 * cubed
            self.valve_loss_J += self.valve_s2_m5 * cubed
            self.nozzle_loss_J += self.nozzle_s2_m5 * cubed
            self.volume_m3 += flow * dt_s
            # The friction factor of the next step is that of this flow.
            if flow >= LEAST_FLOW_M3_S:
                self.pipe_s2_m5 = self.pipe.resistance_s2_m5(flow)
            self._turn(dt_s, flow)
            return
        self.flow = 0.0
        if self.speed:
            self._turn(dt_s, 0.0)
        else:
            self.generator_V = self.generator_A = self.lamp_A = self.clamp_A = self.dump_A = 0.0
            self.middle = 0.0

    def _travel(self, dt_s, commanded):
        """Move the valve towards where it was commanded, at its travel speed."""
        most = dt_s / self.drive.travel_s
        gap = commanded - self.position
        self._place(commanded if -most <= gap <= most else (
            self.position + (most if gap > 0.0 else -most)))

    def _place(self, position):
        """Let the valve stand at a position, within its ends."""
        self.position = min(1.0, max(0.0, position))
        if self.position <= 0.0:
            self.valve_s2_m5 = self.seat_s2_m5
        else:
            self.travel(self.position)

    def _turn(self, dt_s, flow):
        """Turn the wheel for one step by what jet, friction and generator give and take.

        The step takes the torque at its middle speed.
        """
        before, inertia, wheel, drive_Nm = self.speed, self.inertia, self.wheel, self.drive_Nm
        jet = flow / self.area
        radius, drag = wheel.radius_m, wheel.friction_Nm
        # Water slower than the wheel does not reach it.
        hits = jet > before * radius
        push = self.push_kg_s_m2 * flow if hits else 0.0
        # The torque is taken at the middle speed: a half-implicit step that stays stable
        # at any gain.  It is foreseen from the state of the step before.
        half_s = 0.5 * dt_s / inertia
        middle = self.middle
        torque = push * (jet - middle * radius) - self.emf * self.generator_A
        off = before + (torque - drag) * half_s - middle
        for _ in range(MOST_TRIALS):
            middle += off / (1.0 + (push * radius + self.slope_Nm_s()) * half_s)
            torque = push * (jet - middle * radius) - drive_Nm(middle)
            off = before + (torque - drag) * half_s - middle
            # Where a load begins or ends, it was not as foreseen.
            if -SAME_RAD_S < off < SAME_RAD_S:
                break
        after = before + 2.0 * (torque - drag) * half_s
        if after < 0.0:
            after = 0.0
            middle = 0.5 * before
            torque = push * (jet - middle * radius) - drive_Nm(middle)
        if after == 0.0:
            # It stands, or stops within this step: drag takes just what is left.
            drag = torque + inertia * before / dt_s
        self.speed, self.middle = after, middle
        self.drag_loss_J += drag * middle * dt_s
        if flow > 0.0:
            mass_kg = self.density * flow * dt_s
            if hits:
                bucket_J, splash_J = wheel.lost_J(mass_kg, jet, middle * radius)
                self.bucket_loss_J += bucket_J
                self.splash_loss_J += splash_J
            else:
                self.splash_loss_J += 0.5 * mass_kg * jet * jet
        if self.generator_A > 0.0:
            self._account(dt_s)

    def _account(self, dt_s):
        """Book what the generator gives and loses, and where it goes."""
        amps, volts = self.generator_A, self.generator_V
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
