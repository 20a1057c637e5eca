"""The two tanks with their floats, the water in the penstock, and the buffer battery.

Heights are above the turbine's nozzle [m].
"""

import math

from keeper.physics import of_rig

JOULES_PER_WH = 3600.0
# A lithium iron phosphate battery's open voltage over the middle of its charge,
# as a share of the rated voltage; common practice, no source.
OPEN_LOW_FRAC, OPEN_SPAN_FRAC = 0.98, 0.04
# Over the last of its charge that voltage falls off; a guess at the usual curve.
KNEE_FRAC, KNEE_DROP_FRAC = 0.1, 0.2
RETURNS_FRAC = 0.02  # an empty battery carries the board again from this charge on; a guess
TAPER_FRAC = 0.02    # the charge current falls off over the last part of the charge; a guess


class Tank:
    """One tank: its water, level, overflow and books of what left it unplanned."""

    def __init__(self, rig, name, overflow_m3, weight_N_m3):
        """Take section `name` of the rig; water above `overflow_m3` [m3] runs away.

        None: over the rim.
        """
        self.shape = of_rig.tank(rig, name + ".")
        if overflow_m3 is None:
            overflow_m3 = self.shape.capacity_m3
        self.base_m = rig[name + ".base_height_m"]
        self.volume_m3 = rig[name + ".start_volume_m3"]
        self.overflow_m3 = overflow_m3
        self.weight = weight_N_m3
        self.level_of = self.shape.level_m
        self.level_m = self.level_of(self.volume_m3)
        self.spilled_m3 = 0.0
        self.spilled_J = 0.0
        self.removed_m3 = 0.0
        self.removed_J = 0.0
        # While the level stays between these no float moves; none known yet.
        self.calm_from_m = self.calm_to_m = 0.0

    def follow(self, *floats):
        """Let the floats follow the level, and say between which levels they then rest."""
        self.calm_from_m, self.calm_to_m = -math.inf, math.inf
        for one in floats:
            one.follow(self.level_m)
            if one.up:
                self.calm_from_m = max(self.calm_from_m, one.level_m - one.hysteresis_m)
            else:
                self.calm_to_m = min(self.calm_to_m, one.level_m)

    def energy_J(self):
        """Return the potential energy of the water above the nozzle's height [J]."""
        centroid = self.shape.centroid_m(self.level_m) if self.volume_m3 > 0.0 else 0.0
        return self.weight * self.volume_m3 * (self.base_m + centroid)

    def add(self, volume_m3):
        """Add water [m3], negative to take it; what the overflow cannot hold is spilled.

        Return whether no float moves at the new level.
        """
        volume = self.volume_m3 + volume_m3
        if volume > self.overflow_m3:
            over = volume - self.overflow_m3
            self.spilled_m3 += over
            self.spilled_J += self.weight * over * (self.base_m
                                                    + self.shape.level_m(self.overflow_m3))
            volume = self.overflow_m3
        self.volume_m3 = volume
        self.level_m = level_m = self.level_of(volume)
        return self.calm_from_m <= level_m < self.calm_to_m

    def surface_m(self):
        """Return the height of the water's surface above the nozzle [m]."""
        return self.base_m + self.level_m

    def bring(self, volume_m3):
        """Add water [m3] at the surface as it moves, negative to take it.

        Return the energy that it has there [J]: of what is kept by the mean of the surface
        before and after, of what spills by the overflow.
        """
        before_m, spilled_m3, spilled_J = self.surface_m(), self.spilled_m3, self.spilled_J
        self.add(volume_m3)
        kept_m3 = volume_m3 - (self.spilled_m3 - spilled_m3)
        mean_m = 0.5 * (before_m + self.surface_m())
        return self.weight * kept_m3 * mean_m + (self.spilled_J - spilled_J)

    def empty(self):
        """Take all water away, as a fault does."""
        self.lose(self.volume_m3)

    def lose(self, volume_m3):
        """Let water [m3] run away at the floor, at most what is there."""
        volume = min(volume_m3, self.volume_m3)
        before_m = self.level_m
        self.volume_m3 -= volume
        self.level_m = self.shape.level_m(self.volume_m3)
        self.removed_m3 += volume
        centroid = self.shape.slab(self.level_m, before_m)[1]
        self.removed_J += self.weight * volume * (self.base_m + centroid)


class Pipeful:
    """The water that stands in the penstock, from the upper tank's floor to the nozzle."""

    def __init__(self, rig, top_m, weight_N_m3):
        """Take the rig, the height of the pipe's upper end [m] and the water's weight."""
        bore = rig["penstock.diameter_m"]
        self.most_m3 = math.pi / 4.0 * bore * bore * rig["penstock.length_m"]
        self.volume_m3 = self.most_m3
        self.weight = weight_N_m3
        self.middle_m = 0.5 * top_m   # its water lies half way up in the mean
        self.drop_J = 0.0             # lost in filling and emptying it

    def energy_J(self):
        """Return the potential energy of the water above the nozzle's height [J]."""
        return self.weight * self.volume_m3 * self.middle_m

    def fill(self, tank):
        """Let a tank's water run into the empty pipe."""
        self.volume_m3 = min(self.most_m3, tank.volume_m3)
        self.drop_J -= tank.bring(-self.volume_m3) + self.energy_J()

    def empty(self, tank):
        """Let what stands in the pipe run into a tank."""
        self.drop_J += self.energy_J() - tank.bring(self.volume_m3)
        self.volume_m3 = 0.0


class Float:
    """A float switch at a level, with hysteresis.  `up` tells whether it floats."""

    def __init__(self, level_m, hysteresis_m, tank):
        """Take the level at which it lifts [m] and how far the water must fall again [m]."""
        self.level_m = level_m
        self.hysteresis_m = hysteresis_m
        self.up = tank.level_m >= level_m
        self.held = False        # in somebody's hand

    def follow(self, level_m):
        """Take the water level [m]."""
        if self.held:
            return
        if level_m >= self.level_m:
            self.up = True
        elif level_m < self.level_m - self.hysteresis_m:
            self.up = False


class Battery:
    """The board's buffer battery: charge, open voltage and inner resistance."""

    def __init__(self, rig):
        """Take the rig's supply."""
        self.rated_V = rig["supply.voltage_V"]
        self.capacity_As = rig["supply.capacity_Ah"] * JOULES_PER_WH
        self.charge_frac = rig["supply.start_charge_frac"]
        self.resistance = rig["supply.resistance_ohm"]
        self.load_W = rig["supply.board_load_W"]
        self.flat = self.charge_frac <= 0.0   # it does not carry the board
        self.volts = self._open_V()
        self.amps = 0.0          # + charging
        self.owed_J = 0.0        # what the valve's motor took since the last step
        self.board_J = 0.0       # with it
        self.stored_J = 0.0      # net, since the start
        self.loss_J = 0.0
        self.charged_J = 0.0     # what the charger brought to the terminals

    def _open_V(self):
        frac = OPEN_LOW_FRAC + OPEN_SPAN_FRAC * self.charge_frac
        if self.charge_frac < KNEE_FRAC:
            frac -= KNEE_DROP_FRAC * (1.0 - self.charge_frac / KNEE_FRAC)
        return self.rated_V * frac

    def appetite(self):
        """Return the share of the charge current that it takes now [-]: tapers when full."""
        share = (1.0 - self.charge_frac) / TAPER_FRAC
        if share >= 1.0:
            return 1.0
        return share if share > 0.0 else 0.0

    def step(self, dt_s, charge_A, board_on):
        """Take `charge_A` [A] from the charger and feed the board, for `dt_s` [s]."""
        load_W = self.load_W
        if self.owed_J:
            load_W += self.owed_J / dt_s
            self.owed_J = 0.0
        board_A = load_W / self.volts if board_on and not self.flat else 0.0
        amps = charge_A - board_A
        charge, resistance = self.charge_frac, self.resistance
        if charge < KNEE_FRAC:
            open_V = self._open_V()
        else:
            open_V = self.rated_V * (OPEN_LOW_FRAC + OPEN_SPAN_FRAC * charge)
        volts = open_V + resistance * amps
        self.charge_frac = charge = charge + amps * dt_s / self.capacity_As
        self.board_J += volts * board_A * dt_s
        if charge_A:
            self.charged_J += volts * charge_A * dt_s
        self.stored_J += open_V * amps * dt_s
        self.loss_J += resistance * amps * amps * dt_s
        self.amps = amps
        self.volts = volts
        if charge <= 0.0:
            self.flat = True
        elif self.flat and charge >= RETURNS_FRAC:
            self.flat = False
