"""Evenings of the orchard shed, the smallest rig, whose truth is known.

A pump fills the drum until its float lifts; later light is made with a power that the
machine's own balance of torque ties to a flow; it ends with the drum or by an order.
Rigs are drawn as `tests.bench.coverage.drawn` does, and read with meters that err.
"""

import random
from types import SimpleNamespace

import numpy as np

from forebay.rig import load
from forebay.rig.governing import turbine_set
from forebay.shelf.decode import Findings, Journal, decode
from forebay.shelf.rows import Rows
from keeper import channels as ch
from keeper import events, modes
from keeper.journal.rows import NOT_TRUSTED
from keeper.physics import of_rig
from keeper.physics.generator import lamp_current_A
from tests.balance.rig import limbs
from tests.bench.coverage.drawn import draw_known, off

ORCHARD = load(demo="orchard")
ROW_S = 10
UP_M3_S = 30e-6
REST_ROWS = 30
DARK_ROWS = 6            # of a drum that is empty, until somebody notices


def evening(seed=None, hours=8.0, power_W=0.08, start=0.3):
    """Returns (journal, what was true) of an evening.

    seed: of the rig's and the meters' errors, None = as described; start: share of the
    full drum that is there before the pump.
    """
    told = ORCHARD.plant()
    true = dict(told)
    draw = random.Random(seed)
    if seed is not None:
        draw_known(draw, told, true)
    errors = [1 + frac * off(draw) if seed is not None else 1.0
              for frac in (told["sensors.voltage_frac"], told["sensors.current_frac"])]
    return _played(true, hours, power_W, start, *errors)


def _played(true, hours, power_W, start, volts_read, amps_read):
    machine = turbine_set(true)
    flow = machine.flow_for_lamps_m3_s(power_W)
    amps = lamp_current_A(power_W, machine.lamp_V, machine.lamp_ohm)
    volts = power_W / amps
    dark = 0
    full, tank = true["upper.full_volume_m3"], of_rig.tank(true, "upper.")
    falls = tank.volume_m3(tank.level_m(full) - true["upper.float_hysteresis_m"])
    volume, begun, is_full, rows = start * full, start * full, False, []
    fill = int(np.ceil((full - volume) / UP_M3_S / ROW_S))
    light = int(hours * 3600 / ROW_S)
    for state, count in ((modes.PUMPING, fill), (modes.STANDSTILL, REST_ROWS),
                         (modes.RUNNING, light), (modes.STANDSTILL, REST_ROWS)):
        for _ in range(count):
            before = volume
            if state == modes.PUMPING:
                volume = min(full, volume + UP_M3_S * ROW_S)
                is_full = is_full or volume >= full
            elif state == modes.RUNNING:
                volume = max(0.0, volume - flow * ROW_S)
                is_full = is_full and volume > falls
            share = (before - volume) / (flow * ROW_S) if state == modes.RUNNING else 0.0
            rows.append((state, is_full, share, volume))
            dark = dark + 1 if state == modes.RUNNING and volume == 0.0 else 0
            if dark > DARK_ROWS:
                break
    lit_s = ROW_S * sum(row[2] for row in rows)
    made = _journal(rows, volts * volts_read, amps * amps_read)
    height_m = true["upper.base_height_m"]
    level_m = [tank.level_m(one) for one in (begun, full, max(0.0, full - flow * lit_s))]
    weight = 999.5 * 9.80
    return made, {
        "lamps": power_W * lit_s, "down": 1e3 * flow * lit_s, "up": 1e3 * (full - begun),
        "stored": weight * (full - begun) * (height_m + (level_m[0] + level_m[1]) / 2),
        "released": weight * flow * lit_s * (height_m + (level_m[1] + level_m[2]) / 2)}


def _journal(rows, volts, amps):
    """Returns the journal that a keeper would write of (state, full, share lit, volume) rows."""
    count = len(rows)
    made = Rows.empty(count)
    made.seq[:] = np.arange(count) + 1
    made.boot[:] = 1
    made.uptime_ds[:] = (np.arange(count) + 1) * ROW_S * 10
    made.scans[:] = ROW_S * 10
    made.state[:] = [row[0] for row in rows]
    wet = 1 << ch.C_71L_LO - ch.COLUMNS
    made.contacts[:] = [wet | (0 if row[1] else 1) for row in rows]
    made.stored[:] = NOT_TRUSTED
    lit = np.array([row[2] for row in rows])
    made.stored[ch.GENERATOR_MV] = np.round(volts * 100 * lit)
    made.stored[ch.LAMP_MA] = np.round(amps * 1000 * lit)
    made.stored[ch.MOTOR_MDEGC] = 14 * 16
    totals = np.zeros((count, len(ch.TOTALS)), int)
    totals[:, ch.T_LAMP] = np.cumsum(volts * amps * lit * ROW_S * 1000)
    totals[:, ch.T_PUMP_MS] = np.cumsum(made.state == modes.PUMPING) * ROW_S * 1000
    totals[:, ch.T_LIGHT_MS] = np.cumsum(lit) * ROW_S * 1000
    empty = decode([])
    changes = np.flatnonzero(np.diff(made.state.astype(int))) + 1
    said = np.zeros(len(changes) + 1, empty.events.dtype)
    said["boot"], said["seq"] = 1, np.arange(len(said)) + 1
    said["code"] = [events.BOOT] + [events.STATE] * len(changes)
    said["uptime_ds"][1:] = made.uptime_ds[changes - 1]
    said["argument"][1:] = made.state[changes - 1]
    said["state"] = [made.state[0], *made.state[changes]]
    said["totals"][1:] = limbs(totals[changes - 1])
    kept = np.zeros(count, empty.totals.dtype)
    kept["boot"], kept["uptime_ds"], kept["totals"] = 1, made.uptime_ds, limbs(totals)
    return Journal(made, said, kept, empty.summaries, Findings())


def with_instruments(rig, changes):
    """Returns a rig that has or lacks some instruments; changes: name -> "fitted" or "absent"."""
    sensors = SimpleNamespace(**{**vars(rig.sensors), **changes})
    return SimpleNamespace(**{
        **{name: getattr(rig, name) for name in (
            "rig", "site", "upper", "generator", "supply", "valve", "model", "plant",
            "assumed_line")},
        "sensors": sensors})
