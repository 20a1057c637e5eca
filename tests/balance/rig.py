"""The demo rig's figures that a balance needs, and journals of a plant that keeps its laws."""

from types import SimpleNamespace

import numpy as np

from forebay.rig import load
from forebay.rig.instruments import FITTED, INSTRUMENTS
from forebay.shelf import Anchor, Clock
from forebay.shelf.decode import Findings, Journal, decode
from forebay.shelf.rows import Rows
from keeper import channels as ch
from keeper import events, modes

HILLSIDE = load()
DEMO = SimpleNamespace(
    plant=HILLSIDE.plant,
    assumed_line=HILLSIDE.assumed_line,
    rig=SimpleNamespace(name="hillside allotment"),
    site=SimpleNamespace(latitude_deg=38.0, longitude_deg=-106.0, height_m=300.0, zone=None),
    upper=SimpleNamespace(shape="rectangular", length_m=1.0, width_m=1.0, height_m=1.1,
                          base_height_m=9.0, float_hysteresis_m=0.012),
    generator=SimpleNamespace(clamp_voltage_V=15.0, clamp_resistance_ohm=2.0),
    supply=SimpleNamespace(board_load_W=0.2),
    valve=SimpleNamespace(motor_power_W=1.5, travel_s=4.0, press=0.2, least_pulse_s=0.02,
                          backlash=0.004),
    model=SimpleNamespace(**{**vars(HILLSIDE.model), "board_load_frac": 0.2 / 3**0.5}),
    sensors=SimpleNamespace(
        **{one.name: FITTED for one in INSTRUMENTS},
        flow_frac=0.02, pulses_per_litre=450.0, flow_floor_m3_s=1e-3 / 60,
        flow_stall_m3_s=0.5e-3 / 60, voltage_frac=0.005, voltage_resolution_V=0.01,
        voltage_noise_V=0.02, current_frac=0.01, current_resolution_A=0.001,
        current_noise_frac=0.001, panel_range_A=8.0, pump_range_A=2.0, generator_range_A=0.4,
        lamp_range_A=0.4, supply_range_A=0.8, level_uncertainty_m=0.005,
        level_resolution_m=0.001, level_noise_m=0.005, temperature_uncertainty_K=0.5,
        temperature_noise_K=0.06, valve_frac=0.01),
)

FILL_S, REST_S, LIGHT_S = 4000, 400, 8000
PUMP_W, PANEL_V, CHARGE_A = 18.0, 24.0, 0.1
LAMP_W, GENERATOR_V = 0.6, 12.0
UP_M3_S, DOWN_M3_S = 55e-6, 27e-6
SUPPLY_V, BOARD_W = 12.8, 0.2
START_LEVEL_M = 0.060
ROW_SCANS = 100
TRUE_ENERGY_J = {
    "pump": PUMP_W * FILL_S,
    "panel": (PUMP_W + PANEL_V * CHARGE_A) * FILL_S,
    "charge": PANEL_V * CHARGE_A * FILL_S,
    "generator": LAMP_W * LIGHT_S,
    "lamps": LAMP_W * LIGHT_S,
    "board_load": BOARD_W * (FILL_S + 2 * REST_S + LIGHT_S),
}


class Errors:
    """One rig's calibration errors (all 0 without a seed) and its noise."""

    def __init__(self, seed=None):
        self.draw = np.random.default_rng(seed)
        self.on = seed is not None
        s = DEMO.sensors
        names = ("panel_mV", "generator_mV", "supply_mV")
        self.offset = {}         # of a reading while its current flows, in its unit
        self.level_mm = (0.0, 0.0)  # of the level at the floor and at the rim
        self.scale = {name: self._of(s.voltage_frac) for name in names}
        for name in ("panel_mA", "pump_mA", "generator_mA", "lamp_mA", "supply_mA"):
            self.scale[name] = self._of(s.current_frac)
        for name in ("flow_up_uL_s", "flow_down_uL_s"):
            self.scale[name] = self._of(s.flow_frac)

    def _of(self, frac):
        return self.draw.normal(0, frac) if self.on else 0.0


def scans():
    """Returns (state, true values by channel name) of every scan: rest, fill, rest, light."""
    lengths = [REST_S * 10, FILL_S * 10, REST_S * 10, LIGHT_S * 10]
    kinds = [modes.STANDSTILL, modes.PUMPING, modes.STANDSTILL, modes.RUNNING]
    state = np.repeat(kinds, lengths)
    fill, light = state == modes.PUMPING, state == modes.RUNNING
    load_A = BOARD_W / SUPPLY_V
    flow = UP_M3_S * fill - DOWN_M3_S * light
    true = {
        "panel_mV": PANEL_V * 1e3 * fill,
        "panel_mA": (PUMP_W / PANEL_V + CHARGE_A) * 1e3 * fill,
        "pump_mA": PUMP_W / PANEL_V * 1e3 * fill,
        "generator_mV": GENERATOR_V * 1e3 * light,
        "generator_mA": LAMP_W / GENERATOR_V * 1e3 * light,
        "lamp_mA": LAMP_W / GENERATOR_V * 1e3 * light,
        "supply_mV": SUPPLY_V * 1e3 * np.ones(len(state)),
        "supply_mA": (CHARGE_A * fill - load_A) * 1e3,
        "flow_up_uL_s": UP_M3_S * 1e9 * fill,
        "flow_down_uL_s": DOWN_M3_S * 1e9 * light,
        "level_mm": (START_LEVEL_M + np.cumsum(flow) * 0.1) * 1e3,
        "motor_mdegC": 20000.0 * np.ones(len(state)),
        "water_mdegC": 12000.0 * np.ones(len(state)),
        "valve_permille": 500.0 * light,
    }
    return state, true


def readings(true, errors):
    """Returns what the board reads: calibration errors, noise and rounding."""
    s = DEMO.sensors
    ranges = {"panel_mA": 8.0, "pump_mA": 2.0, "generator_mA": 0.4, "lamp_mA": 0.4,
              "supply_mA": 0.8}
    read = {}
    angle = np.pi / 2 * true["level_mm"] / (DEMO.upper.height_m * 1e3)
    floor_mm, rim_mm = errors.level_mm
    for name, values in true.items():
        noise = errors.offset.get(name, 0.0) * (values != 0)
        if name == "level_mm":
            noise = noise + floor_mm * np.cos(angle) + rim_mm * np.sin(angle)
        if errors.on and name.endswith("mV"):
            noise = errors.draw.normal(0, s.voltage_noise_V * 1e3, len(values))
        elif errors.on and name in ranges:
            noise = errors.draw.normal(0, ranges[name] * s.current_noise_frac * 1e3, len(values))
        elif errors.on and name == "level_mm":
            noise = errors.draw.normal(0, s.level_noise_m * 1e3, len(values))
            floor, rim = errors.draw.normal(0, s.level_uncertainty_m * 1e3, 2)
            noise += floor * np.cos(angle) + rim * np.sin(angle)
        read[name] = values * (1 + errors.scale.get(name, 0.0)) + noise
        if errors.on and name.endswith("mA"):
            read[name] = np.round(read[name])
    return read


def totals_of(state, read):
    """Returns the ten totals after every scan, in their units."""
    def energy(volts, amps, sign=0):
        power = read[volts] * read[amps] * 1e-3
        return np.cumsum(np.maximum(sign * power, 0) if sign else power) * 0.1

    columns = [
        energy("panel_mV", "panel_mA"), energy("panel_mV", "pump_mA"),
        energy("supply_mV", "supply_mA", 1), energy("supply_mV", "supply_mA", -1),
        energy("generator_mV", "generator_mA"), energy("generator_mV", "lamp_mA"),
        np.cumsum(read["flow_up_uL_s"]) * 0.1, np.cumsum(read["flow_down_uL_s"]) * 0.1,
        np.cumsum(state == modes.PUMPING) * 100.0, np.cumsum(state == modes.RUNNING) * 100.0,
    ]
    return np.maximum.accumulate(np.column_stack(columns).astype(np.int64), axis=0)


def journal_of(errors, drop_rows=()):
    """Returns the journal that a keeper would write: rows, state changes, totals."""
    state, true = scans()
    read = readings(true, errors)
    totals = totals_of(state, read)
    count = len(state) // ROW_SCANS
    rows = Rows.empty(count)
    ends = (np.arange(count) + 1) * ROW_SCANS
    rows.seq[:] = np.arange(count) + 1
    rows.boot[:] = 1
    rows.uptime_ds[:] = ends
    rows.scans[:] = ROW_SCANS
    rows.state[:] = state[ends - 1]
    rows.contacts[:] = 0
    for index, channel in enumerate(ch.CHANNELS):
        means = read[channel[0]].reshape(count, ROW_SCANS).mean(axis=1)
        rows.stored[index] = np.round(means * channel[ch.CH_STEP_DEN] / channel[ch.CH_STEP_NUM])
    rows = rows.take(~np.isin(rows.seq, list(drop_rows)))
    empty = decode([])
    changes = np.flatnonzero(np.diff(state)) + 1
    happened = np.zeros(len(changes) + 1, empty.events.dtype)
    happened["boot"] = 1
    happened["seq"] = np.arange(len(happened)) + 1
    happened["code"] = [events.BOOT] + [events.STATE] * len(changes)
    happened["uptime_ds"][1:] = changes
    happened["argument"][1:] = state[changes - 1]
    happened["argument2"][1:] = [modes.SUN_ENOUGH, modes.TOO_WEAK, modes.LIGHT_DUE]
    happened["state"] = [modes.CLOSING, *state[changes]]
    happened["totals"][1:] = limbs(totals[changes - 1])
    at = np.append(np.arange(10, len(state), 600), len(state))
    kept = np.zeros(len(at), empty.totals.dtype)
    kept["boot"] = 1
    kept["uptime_ds"] = at
    kept["totals"] = limbs(totals[at - 1])
    return Journal(rows, happened, kept, empty.summaries, Findings())


def limbs(totals):
    """Returns totals as (..., 2) limbs."""
    return np.stack([totals % ch.LIMB, totals // ch.LIMB], axis=-1)


def clock():
    """Returns a clock whose boot 1 began at 1 500 000 000 s."""
    return Clock([Anchor(0, 1, 0, 1.5e9, 0.05)])


def files_of(journal):
    """Returns a journal as the board's files {Modbus file number: bytes}: blocks and events."""
    from tests.shelf import encoder

    rows = journal.rows
    detail = encoder.header(0, 1)
    files = {}
    for first in range(0, len(rows), 64):
        some = rows.take(slice(first, first + 64))
        columns = [some.boot, some.uptime_ds, some.scans, some.state, some.contacts]
        heads = zip(*[column.tolist() for column in columns], strict=True)
        values = some.stored.T.tolist()
        block = [(*head, value) for head, value in zip(heads, values, strict=True)]
        packed = encoder.block(int(some.seq[0]), block)
        if len(detail) + len(packed) > 20000:
            files[len(files) + 1] = detail
            detail = encoder.header(0, len(files) + 1)
        detail += packed
    files[len(files) + 1] = detail
    events_file = encoder.header(1, 1)
    for event in journal.events:
        whole = event["totals"][:, 0].astype(int) + event["totals"][:, 1].astype(int) * ch.LIMB
        events_file += encoder.event(
            int(event["seq"]), 1, int(event["uptime_ds"]), int(event["code"]),
            int(event["argument"]), int(event["argument2"]), int(event["state"]),
            totals=whole.tolist(),
        )
    files[16384 + 1] = events_file
    tail = encoder.header(3, 1)
    for kept in journal.totals[-1:]:
        whole = kept["totals"][:, 0].astype(int) + kept["totals"][:, 1].astype(int) * ch.LIMB
        tail += encoder.totals(1, 1, int(kept["uptime_ds"]), whole.tolist())
    files[3 * 16384 + 1] = tail
    return files


def fill_shelf(shelf, journal, rig_id=7):
    """Puts a journal and an anchor on a shelf, as a pull would."""
    shelf.add_rig(rig_id)
    for number, data in files_of(journal).items():
        shelf.put_segment(rig_id, 0, number // 16384, number % 16384, data)
    shelf.add_anchor(rig_id, Anchor(0, 1, 0, 1.5e9, 0.05))
