"""From the panel to the upper tank: a solar pump, the charger beside it, and their books.

The machine is `keeper.physics.solar_pump`; here are the charger, what one step
leaves to the next, and the energies that pass on this side.  Heights are above
the turbine's nozzle [m].  Knows nothing of floats.
"""

from keeper.physics.of_rig import solar_pump
from keeper.physics.pipes import LEAST_FLOW_M3_S
from keeper.physics.solar_pump import SolarPump

CHARGER_DROP_V = 0.5    # a series charger needs this much above the battery; a guess
CHARGER_BLOCKS_V = 0.1  # and blocks where it stands less than this above; a guess
CHARGER_STEP = 0.05     # share of its way that the charger moves in a step of 0.1 s; a guess
CHARGER_SHARE = 0.8     # the charger takes no more than this share of the light current


class Uphill(SolarPump):
    """Panel, charger, motor, pump, rising main.  `step` leaves its results in attributes."""

    def __init__(self, rig, density_kg_m3, viscosity_m2_s, gravity_m_s2):
        """Take the rig as a dict "section.key_unit" and the water's properties [SI]."""
        SolarPump.__init__(self, *solar_pump(rig, density_kg_m3, viscosity_m2_s, gravity_m_s2))
        self.charge_limit_A = rig["supply.charge_current_A"]
        self.charge_A = 0.0       # through the charger
        self.wish_A = 0.0         # where the charger is heading
        self.motor_loss_W = 0.0
        # energies since the start [J]
        self.panel_J = 0.0
        self.pump_J = 0.0
        self.node_charge_J = 0.0  # what the charger takes at the panel's node
        self.copper_J = 0.0
        self.no_load_J = 0.0
        self.pump_loss_J = 0.0
        self.pipe_loss_J = 0.0
        self.lift_J = 0.0
        self.volume_m3 = 0.0

    def step(self, dt_s, connected, lift_m, battery_V, charge_share, primed):
        """Advance `dt_s` [s].

        connected: the pump is on the panel; lift_m: rise from the water below
        to the end of the rising main [m]; battery_V [V]; charge_share: part of
        the charge current that the battery takes now, 0 to 1 [-]; primed:
        there is water at the pump.
        """
        self.motor_loss_W = 0.0
        if self.light <= 0.0:
            self.ratio = self.flow = self.pump_A = 0.0
            self.panel_V = self.panel_A = self.charge_A = self.wish_A = 0.0
            return
        gap = self.panel_V - battery_V - CHARGER_DROP_V
        if gap > 1.0:
            gap = 1.0
        elif gap < 0.0:
            gap = 0.0
        wish_A = self.wish_A
        wish_A += (gap * charge_share * self.charge_limit_A - wish_A) * CHARGER_STEP
        most_A = CHARGER_SHARE * self.light
        self.wish_A = wish_A
        self.charge_A = charge_A = wish_A if wish_A < most_A else most_A
        if connected:
            self.run_m3_s(lift_m, charge_A, primed)
        else:
            self.rest_V(charge_A)
        if charge_A and self.panel_V < battery_V + CHARGER_BLOCKS_V:
            # No current flows uphill: it blocks at once, and seeks its way from half as much.
            self.charge_A = charge_A = 0.0
            self.wish_A *= 0.5
            if connected:
                self.run_m3_s(lift_m, 0.0, primed)
            else:
                self.rest_V(0.0)
        if connected:
            self._account(dt_s, lift_m, primed)
        volts = self.panel_V
        self.panel_J += volts * self.panel_A * dt_s
        self.node_charge_J += volts * charge_A * dt_s

    def _account(self, dt_s, lift_m, primed):
        """Book pump energy and each loss."""
        copper_W, no_load_W, pump_W, pipe_W = self.losses_W(primed)
        self.motor_loss_W = copper_W + no_load_W
        self.pump_J += self.panel_V * self.pump_A * dt_s
        self.copper_J += copper_W * dt_s
        self.no_load_J += no_load_W * dt_s
        self.pump_loss_J += pump_W * dt_s
        flow = self.flow
        if flow > 0.0:
            self.pipe_loss_J += pipe_W * dt_s
            self.lift_J += self.weight * flow * lift_m * dt_s
            self.volume_m3 += flow * dt_s
            # The friction factor of the next step is that of this flow.
            if flow >= LEAST_FLOW_M3_S:
                self.pipe_s2_m5 = self.pipe.resistance_s2_m5(flow)

    def losses_J(self):
        """Return the sum of what was lost between the panel's node and the lifted water [J]."""
        return self.copper_J + self.no_load_J + self.pump_loss_J + self.pipe_loss_J
