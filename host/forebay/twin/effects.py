"""What a fault of the catalogue changes in the plant, the leads and the instruments.

Figures here say how bad a fault is; they are guesses, chosen to be seen.
"""

from forebay.twin.leads import Leads
from keeper import channels as ch
from keeper.instruments.monitors import arranged

EDGE_S, FULL_S, SHADE_S = 2.0, 60.0, 120.0
FULL_W_M2, SHADE_W_M2 = 1000.0, 150.0
LEAK_M3_S = 2e-5
FLOOD_M3_S = 1e-3
FROSTY_DEGC = -12.0
STUCK_TRAVEL_S = 1e12
SLOW_TRAVELS = 12.0
CREEP_S = 60.0           # a valve that opens by itself takes this long
NO_CLAMP_V = 1e9
LEVEL_OFF_MM = 80
READS_HIGH_PERMILLE, READS_FAR_PERMILLE = 30, 90
SLOW_PERCENT = 40        # of the pulses that a slow meter gives
FOURFOLD_PERCENT = 400
TWENTYFOLD_PERCENT = 2000
LOW_PERCENT = 16         # of the lamps' current
STIFF_A = 1.2            # current that a stiff bearing takes
STUCK_MDEGC = 24000      # of a motor long at work; one stuck colder does not follow its heat
NOISE_PER_S = 5          # false pulses: half-wave hum of a pump's supply picked up by a long lead
CLOGGED_S2_M5 = 2.5e10   # a third of the flow is left, in good sun

# Readings that say something else: fault -> (channel, what it says)
READS = {
    "motor-sensor-open": ((ch.MOTOR_MDEGC, ch.INVALID + ch.OPEN),),
    "motor-sensor-short": ((ch.MOTOR_MDEGC, ch.INVALID + ch.SHORT),),
    "motor-sensor-reset": ((ch.MOTOR_MDEGC, ch.INVALID + ch.POWER_ON_VALUE),),
    "motor-sensor-zero": ((ch.MOTOR_MDEGC, ch.INVALID + ch.ALL_ZERO),),
    "motor-sensor-stale": ((ch.MOTOR_MDEGC, ch.INVALID + ch.STALE),),
    "water-sensor-lost": ((ch.WATER_MDEGC, ch.INVALID + ch.NO_ANSWER),),
    "panel-current-clipped": ((ch.PANEL_MA, ch.INVALID + ch.CLIPPED),),
    "pump-current-clipped": ((ch.PUMP_MA, ch.INVALID + ch.CLIPPED),),
    "generator-current-clipped": ((ch.GENERATOR_MA, ch.INVALID + ch.CLIPPED),),
    "lamp-current-zero": ((ch.LAMP_MA, 0),),
    "motor-sensor-stuck": ((ch.MOTOR_MDEGC, STUCK_MDEGC),),
    "supply-current-clipped": ((ch.SUPPLY_MA, ch.INVALID + ch.CLIPPED),),
    "level-sensor-open": ((ch.LEVEL_MM, ch.INVALID + ch.OPEN),),
    "level-sensor-short": ((ch.LEVEL_MM, ch.INVALID + ch.SHORT),),
    "valve-sensor-open": ((ch.VALVE_PERMILLE, ch.INVALID + ch.OPEN),),
    "button-stuck": ((ch.BUTTON, 1),),
    "upper-float-stuck": ((ch.C_71H_UP, 1),),
    "upper-float-cut": ((ch.C_71H_UP, 0),),
    "over-full-cut": ((ch.C_71HH_UP, 0),),
    "over-full-loop-shorted": ((ch.LOOP_71HH, ch.LOOP_SHORTED),),
    # A cut loop's contact reads as one that has not opened: the loop itself tells.
    "over-full-loop-cut": ((ch.LOOP_71HH, ch.LOOP_CUT), (ch.C_71HH_UP, 1)),
    "low-float-stuck": ((ch.C_71L_UP, 1),),
    "low-float-cut": ((ch.C_71L_UP, 0),),
    "lower-float-stuck": ((ch.C_71L_LO, 1),),
    "lower-float-cut": ((ch.C_71L_LO, 0),),
    "lower-full-cut": ((ch.C_71H_LO, 0),),
}

# Monitors that no longer answer: fault -> the current that is read by it
LOST = {
    "panel-monitor-lost": ch.PANEL_MA,
    "generator-monitor-lost": ch.GENERATOR_MA,
    "lamp-monitor-lost": ch.LAMP_MA,
    "supply-monitor-lost": ch.SUPPLY_MA,
}

# Wires that fail in a way of `leads`: fault -> (way, channel)
WIRED = {
    "upper-float-loose": (Leads.flickers, ch.C_71H_UP),
    "over-full-loose": (Leads.flickers, ch.C_71HH_UP),
    "low-float-loose": (Leads.flickers, ch.C_71L_UP),
    "lower-float-loose": (Leads.flickers, ch.C_71L_LO),
    "lower-full-loose": (Leads.flickers, ch.C_71H_LO),
    "stop-loose": (Leads.flickers, ch.C_STOP),
    "panel-monitor-drops": (Leads.drops, ch.PANEL_MA),
    "pump-monitor-drops": (Leads.drops, ch.PUMP_MA),
    "generator-monitor-drops": (Leads.drops, ch.GENERATOR_MA),
    "lamp-monitor-drops": (Leads.drops, ch.LAMP_MA),
    "supply-monitor-drops": (Leads.drops, ch.SUPPLY_MA),
    "motor-sensor-garbled": (Leads.garbles, ch.MOTOR_MDEGC),
    "water-sensor-garbled": (Leads.garbles, ch.WATER_MDEGC),
    "panel-voltage-stuck": (Leads.sticks, ch.PANEL_MV),
    "panel-current-stuck": (Leads.sticks, ch.PANEL_MA),
    "pump-current-stuck": (Leads.sticks, ch.PUMP_MA),
    "generator-voltage-stuck": (Leads.sticks, ch.GENERATOR_MV),
    "generator-current-stuck": (Leads.sticks, ch.GENERATOR_MA),
    "lamp-current-stuck": (Leads.sticks, ch.LAMP_MA),
    "supply-voltage-stuck": (Leads.sticks, ch.SUPPLY_MV),
    "supply-current-stuck": (Leads.sticks, ch.SUPPLY_MA),
    "water-sensor-stuck": (Leads.sticks, ch.WATER_MDEGC),
}


def cloud_from(start_s):
    """Return the irradiance of a cloud's edges as a function of time [s] -> [W/m2] or None."""
    def irradiance(time_s):
        since = time_s - start_s
        for length, begin, end in ((FULL_S, FULL_W_M2, FULL_W_M2), (EDGE_S, FULL_W_M2, SHADE_W_M2),
                                   (SHADE_S, SHADE_W_M2, SHADE_W_M2),
                                   (EDGE_S, SHADE_W_M2, FULL_W_M2),
                                   (FULL_S, FULL_W_M2, FULL_W_M2)):
            if since < length:
                return begin + (end - begin) * since / length
            since -= length
        return None
    return irradiance


def apply(name, plant, leads, fitted=ch.ALL_FITTED):
    """Bring a fault of the catalogue on; `power-cut` is the run's own business.

    fitted: bits of what the rig has, as the setting: which voltage a monitor reads, too.
    """
    done = name in READS or name in LOST
    for _, mA_place, mV_place, _ in arranged(fitted):
        if LOST.get(name) == mA_place:
            for place in (mA_place, mV_place):
                if place != ch.NOWHERE:
                    leads.says(place, ch.INVALID + ch.NO_ANSWER)
    for place, value in READS.get(name, ()):
        leads.says(place, value)
    if name in WIRED:
        way, place = WIRED[name]
        way(leads, place)
        done = True
    for kind in (_wire, _water, _pump, _light):
        done = kind(name, plant, leads) or done
    if not done and name != "power-cut":
        raise ValueError("no fault " + name)


def _wire(name, plant, leads):
    """Bring on a fault of wires and instruments that says no fixed value; see WIRED too."""
    if name == "upper-float-chatters":
        leads.chatters(ch.C_71H_UP)
    elif name == "meter-up-stopped":
        leads.shares(ch.PULSES_UP, 0)
    elif name == "meter-up-slow":
        leads.shares(ch.PULSES_UP, SLOW_PERCENT)
    elif name == "meter-down-slow":
        leads.shares(ch.PULSES_DOWN, SLOW_PERCENT)
    elif name == "meter-down-stopped":
        leads.shares(ch.PULSES_DOWN, 0)
    elif name == "meter-up-noise":
        leads.pulses(ch.PULSES_UP, NOISE_PER_S)
    elif name == "meter-down-noise":
        leads.pulses(ch.PULSES_DOWN, NOISE_PER_S)
    elif name == "thermometers-swapped":
        leads.swaps(ch.MOTOR_MDEGC, ch.WATER_MDEGC)
    elif name == "lamp-current-low":
        leads.grows(ch.LAMP_MA, LOW_PERCENT)
    elif name == "pump-current-high":
        leads.grows(ch.PUMP_MA, FOURFOLD_PERCENT)
    elif name == "generator-current-high":
        leads.grows(ch.GENERATOR_MA, TWENTYFOLD_PERCENT)
    elif name == "level-stuck":
        leads.sticks(ch.LEVEL_MM)
    elif name == "level-offset":
        leads.adds(ch.LEVEL_MM, LEVEL_OFF_MM)
    elif name == "valve-reads-high":
        leads.adds(ch.VALVE_PERMILLE, READS_HIGH_PERMILLE)
    elif name == "valve-reads-far":
        leads.adds(ch.VALVE_PERMILLE, READS_FAR_PERMILLE)
    elif name == "valve-wiper-stuck":
        leads.sticks(ch.VALVE_PERMILLE)
    elif name == "stop-pressed":
        plant.press_stop(True)
    else:
        return False
    return True


def _water(name, plant, _):
    """Bring on a fault of tanks and weather."""
    if name == "lower-tank-dry" or name == "lower-float-stuck":
        plant.drain_lower()
    elif name == "lower-tank-floods":
        plant.inflow_m3_s = FLOOD_M3_S
    elif name == "tank-leaks":
        plant.leak_m3_s = LEAK_M3_S
    elif name == "main-siphons":
        plant.siphon_m3_s = LEAK_M3_S
    elif name == "frost":
        plant.freeze(FROSTY_DEGC)
    elif name == "cloud-edge":
        plant.cloud = cloud_from(plant.time_s)
        plant.next_sun_s = plant.time_s
    else:
        return False
    return True


def _pump(name, plant, _):
    """Bring on a fault of panel, pump and motor."""
    up = plant.up
    if name == "jacket-blocked":
        plant.jacket_blocked = True
    elif name == "motor-sensor-loose":
        plant.sensor_loose = True
    elif name == "bearing-stiff":
        up.no_load_A += STIFF_A
    elif name == "rotor-stalled":
        up.stalled = True
    elif name == "air-in-pump":
        plant.air_in_pump = True
    elif name == "strainer-blocked" or name == "foot-valve-stuck":
        up.blocked = True
    elif name == "strainer-half-clogged":
        up.inner_s2_m5 += CLOGGED_S2_M5
    elif name == "pump-lead-open":
        plant.pump_lead_open = True
    elif name == "pump-switch-welded":
        plant.welded = True
    elif name == "panel-lead-open":
        plant.panel_lead_open = True
        plant.next_sun_s = plant.time_s
    elif name == "charger-dead":
        up.charge_limit_A = 0.0
    else:
        return False
    plant.rewire()
    return True


def _light(name, plant, _):
    """Bring on a fault of penstock, valve, generator and lamps."""
    down = plant.down
    if name == "load-lost":
        down.lamps_connected = False
    elif name == "generator-lead-open":
        down.emf = 0.0
    elif name == "clamp-lost":
        down.clamp_V = NO_CLAMP_V
    elif name == "valve-stuck":
        down.drive.travel_s = STUCK_TRAVEL_S
    elif name == "valve-slow":
        down.drive.travel_s *= SLOW_TRAVELS
    elif name == "valve-creeps" or name == "valve-drifts":
        down.drive.travel_s = CREEP_S
        plant.valve_runs_to = 1.0
    elif name == "seat-leaks":
        down.leak(LEAK_M3_S, plant.upper.base_m + plant.upper.level_m)
    elif name == "hand-valve-shut":
        plant.shed_valve_open = False
    else:
        return False
    plant.rewire()
    return True
