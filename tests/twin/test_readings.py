"""What the instruments read of a known plant, against their specification.

The demo's stated figures: V 0.5 %, 10 mV, 20 mV of noise; I 1 %, 1 mA, noise 0.1 % of
the range; flow 2 %, 450 pulses a litre; level 5 mm, 1 mm, 5 mm of noise; T 0.5 K,
1/16 K, 0.06 K; valve 1 %, 0.1 %.  A calibrated instrument errs by up to sqrt 3 times
its standard uncertainty, every size as likely (a rectangle).
"""

import math

import numpy as np
import pytest
from scipy.stats import chisquare, kstest

from forebay.balance.instruments import Meters
from forebay.rig import load
from forebay.twin.sensors import NOISE_TABLE, Draws, Sensors, mixed
from keeper import channels as ch
from tests.stories import told
from tests.twin import levels
from tests.twin.ledger import RIG, plant
from tests.twin.rigs import HALF, steady

SEEDS = range(48)
SECOND = 10                # scans


def still(**state):
    """A plant that stands as told, in the units of SI."""
    one = plant(steady(0.0), HALF)
    up, down, battery = one.up, one.down, one.battery
    up.panel_V, up.panel_A, up.pump_A = 24.0, 3.0, 0.75
    down.generator_V, down.generator_A, down.lamp_A, down.position = 12.0, 0.2, 0.15, 0.5
    battery.volts, battery.amps = 12.8, -0.3
    one.motor.felt_degC, one.frost.degC = 30.0, 8.0
    up.flow = down.flow = 1e-3
    for name, value in state.items():
        part, key = name.split("__")
        setattr(getattr(one, part), key, value)
    return one


TRUE = {ch.PANEL_MV: 24000, ch.PANEL_MA: 3000, ch.PUMP_MA: 750, ch.GENERATOR_MV: 12000,
        ch.GENERATOR_MA: 200, ch.LAMP_MA: 150, ch.SUPPLY_MV: 12800, ch.SUPPLY_MA: -300,
        ch.LEVEL_MM: 500, ch.MOTOR_MDEGC: 30000, ch.WATER_MDEGC: 8000, ch.VALVE_PERMILLE: 500}
# channel -> (standard uncertainty of the reading, noise, step), in the channel's unit
SPEC = {
    ch.PANEL_MV: (120, 20, 10), ch.PANEL_MA: (30, 8, 1), ch.PUMP_MA: (7.5, 5, 1),
    ch.GENERATOR_MV: (60, 20, 10), ch.GENERATOR_MA: (2, 0.4, 1), ch.LAMP_MA: (1.5, 0.4, 1),
    ch.SUPPLY_MV: (64, 20, 10), ch.SUPPLY_MA: (3, 0.8, 1), ch.LEVEL_MM: (5, 5, 1),
    ch.MOTOR_MDEGC: (500, 60, 62.5), ch.WATER_MDEGC: (500, 60, 62.5),
    ch.VALVE_PERMILLE: (10, 1, 1),
}
TEMPERATURES = (ch.MOTOR_MDEGC, ch.WATER_MDEGC)


def read(one, scans, seed=1, every=1, changes=()):
    """Returns readings (scans, channels) of a plant that stands still."""
    sensors = Sensors({**RIG, **dict(changes)}, one, seed)
    values = [0] * ch.READ
    table = []
    for scan in range(scans):
        sensors.read(values)
        if scan % every == every - 1:
            table.append(list(values))
    return np.array(table)


@pytest.fixture(scope="module")
def long():
    """A whole turn of the table of noise and more, of one rig."""
    return read(still(), NOISE_TABLE * 3, every=3)


@pytest.fixture(scope="module")
def rigs():
    """Means of 200 scans of many rigs, by seed; the first turn of the monitors left out."""
    return np.array([read(still(), 203, seed)[3:].mean(axis=0) for seed in SEEDS])


@pytest.mark.parametrize("channel", SPEC)
def test_noise_is_as_stated_and_new_in_every_reading(long, channel):
    _, noise, step = SPEC[channel]
    seen = long[::10, channel] if channel in TEMPERATURES else long[:, channel]
    # Rounding adds its own: a step over sqrt 12.  Of 1200 readings the deviation is known
    # to 2 %; of the hundreds of temperatures to 4 %.
    assert seen.std() == pytest.approx(math.hypot(noise, step / math.sqrt(12)), rel=0.12, abs=0.03)
    after = np.corrcoef(seen[:-1], seen[1:])[0, 1]
    assert abs(after) < 0.15


@pytest.mark.parametrize("channel", SPEC)
def test_readings_are_whole_steps(long, channel):
    step = SPEC[channel][2]
    parts = long[:, channel] / step
    # Sixteenths of a kelvin are cut to whole thousandths.
    assert np.all(np.abs(parts - np.round(parts)) <= 0.5 / step + 1e-9)
    if step == int(step):
        assert np.all(long[:, channel] % int(step) == 0)


@pytest.mark.parametrize("channel", SPEC)
def test_each_rig_has_a_calibration_error_of_its_own_within_the_instruments_limits(rigs, channel):
    u, noise, step = SPEC[channel]
    off = (rigs[:, channel] - TRUE[channel]) / u
    limit = math.sqrt(3) + (0.4 * noise + step) / u    # 200 readings, of temperatures 20
    assert np.all(np.abs(off) < limit)
    # A rectangle of deviation 1: of 48 rigs the deviation is known to 7 %.
    assert off.std() == pytest.approx(1.0, abs=0.25)
    assert abs(off.mean()) < 0.5
    assert off.max() > 1.0
    assert off.min() < -1.0


def test_calibration_errors_of_two_channels_have_nothing_to_do_with_each_other(rigs):
    off = np.array([rigs[:, channel] - TRUE[channel] for channel in SPEC])
    between = np.corrcoef(off) - np.eye(len(SPEC))
    assert np.abs(between).max() < 0.5      # 48 pairs: 0.15 (one sigma), 66 of them


def test_noise_of_two_channels_has_nothing_to_do_with_each_other(long):
    quick = [ch.PANEL_MV, ch.PANEL_MA, ch.PUMP_MA, ch.GENERATOR_MV, ch.SUPPLY_MV, ch.LEVEL_MM]
    between = np.corrcoef(long[:, quick].T) - np.eye(len(quick))
    assert np.abs(between).max() < 0.15


def test_a_rig_reads_the_same_again_and_another_does_not():
    first, again, other = (read(still(), 30, seed) for seed in (3, 3, 4))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_a_side_that_rests_reads_its_noise_about_nothing():
    seen = read(plant(steady(0.0), HALF), 3000)
    for channel, noise in ((ch.PUMP_MA, 5), (ch.GENERATOR_MV, 20), (ch.GENERATOR_MA, 0.4)):
        assert abs(seen[:, channel].mean()) < 0.2 * noise
        step = SPEC[channel][2]
        assert seen[:, channel].std() == pytest.approx(math.hypot(noise, step / 12**0.5), rel=0.1)
    # Of the valve its own error at the shut end besides.
    assert abs(seen[:, ch.VALVE_PERMILLE].mean()) < 10 * math.sqrt(3)
    assert seen[:, ch.VALVE_PERMILLE].std() == pytest.approx(math.hypot(1, 1 / 12**0.5), rel=0.1)
    assert set(seen[:, ch.PULSES_UP]) == set(seen[:, ch.PULSES_DOWN]) == {0}


# Draws -------------------------------------------------------------------------------------


def test_draws_are_uniform_and_normal_as_told():
    draws = Draws(5)
    uniform = np.array([draws.uniform() for _ in range(20000)])
    assert 0.0 <= uniform.min() < 0.001
    assert 0.999 < uniform.max() < 1.0
    assert uniform.mean() == pytest.approx(0.5, abs=0.01)
    assert uniform.std() == pytest.approx(1 / math.sqrt(12), rel=0.02)
    normal = np.array([draws.normal() for _ in range(10000)])
    assert normal.mean() == pytest.approx(0.0, abs=0.04)
    assert normal.std() == pytest.approx(1.0, rel=0.03)
    assert np.mean(np.abs(normal) < 1.0) == pytest.approx(0.683, abs=0.02)
    errors = np.array([draws.calibration() for _ in range(10000)])
    assert errors.std() == pytest.approx(1.0, rel=0.03)
    assert np.abs(errors).max() <= math.sqrt(3)
    assert errors.mean() == pytest.approx(0.0, abs=0.04)


def test_the_generator_is_that_of_its_source():
    # H. Zeisel, "A remark on algorithm AS 183", Applied Statistics 35 (1986), 89: the three
    # generators are one, of modulus 30269 x 30307 x 30323 (numbers from memory).
    multiplier, modulus = 16555425264690, 27817185604309
    draws = Draws(7)
    parts = 30269, 30307, 30323
    state = sum(state * modulus // part for state, part in zip(
        (draws.a, draws.b, draws.c), parts, strict=True)) % modulus
    for _ in range(1000):
        state = state * multiplier % modulus
        assert draws.uniform() == pytest.approx(state / modulus, abs=1e-12)


@pytest.mark.parametrize(("number", "hashed"), [(0, 0), (1, 0x514E28B7), (2**32 - 1, 0x81F16F39)])
def test_seeds_are_mixed_as_the_source_mixes(number, hashed):
    # MurmurHash3_x86_32 of an empty text is its finalizer of the seed: its public test
    # vectors, from memory.
    assert mixed(number) == mixed(number + 2**32) == hashed


MANY = 2000


@pytest.fixture(scope="module")
def firsts():
    """First calibration errors and curves of the level, by seed."""
    errors, curves = [], []
    for seed in range(1, MANY + 1):
        draws = Draws(seed)
        errors.append(draws.calibration())
        curves.append(draws.curve())
    return np.array(errors), np.array(curves)


def test_errors_of_neighbouring_seeds_have_nothing_to_do_with_each_other(firsts):
    # It was 0.80 between neighbours once.  95 % of independent series lie within 2/sqrt n.
    errors, _ = firsts
    assert abs(np.corrcoef(errors[:-1], errors[1:])[0, 1]) < 2 / math.sqrt(MANY)


def test_first_errors_are_uniform(firsts):
    errors, _ = firsts
    bins = 20
    counts, _ = np.histogram(errors, bins, (-math.sqrt(3), math.sqrt(3)))
    assert counts.sum() == MANY
    assert chisquare(counts).pvalue > 0.05


# The level's error over the height ---------------------------------------------------------


@pytest.mark.parametrize("along", [0.0, 0.2, 0.5, 1.0])
def test_the_levels_error_is_at_every_level_that_of_a_calibrated_instrument(firsts, along):
    size, phase = firsts[1].T
    errors = size * np.cos(phase - math.pi / 2 * along)
    assert np.abs(errors).max() <= math.sqrt(3)
    # A rectangle: of 2000 its deviation is known to 1 %.
    assert errors.std() == pytest.approx(1.0, rel=0.04)
    assert kstest(errors / math.sqrt(3), "uniform", (-1, 2)).pvalue > 0.05


def test_errors_at_two_levels_go_together_as_the_balance_takes_them_to():
    u_m = RIG["sensors.level_uncertainty_m"]
    meters = Meters(load().sensors)
    levels_m = [0.02, 0.3, 0.6, 1.0]
    off = np.array(told(levels.errors_m, range(400), levels_m)) / u_m
    seen = off.T @ off / len(off)
    parts = [meters.level(level_m, RIG["upper.height_m"]).parts for level_m in levels_m]
    for place, one in enumerate(parts):
        for other, another in enumerate(parts):
            due = sum(part * another.get(name, 0.0) for name, part in one.items()) / u_m**2
            # Of 400 a covariance of uniform errors is known to 1/sqrt 400, thrice that.
            assert seen[place, other] == pytest.approx(due, abs=0.15)


# Meters ------------------------------------------------------------------------------------


EXACT = {"sensors.flow_frac": 1e-12}


def pulses(up_m3_s=0.0, down_m3_s=0.0, scans=3000):
    """Returns the pulses that both meters gave."""
    one = plant(steady(0.0), HALF)
    one.up.flow, one.down.flow = up_m3_s, down_m3_s
    seen = read(one, scans, changes=EXACT)
    return int(seen[:, ch.PULSES_UP].sum()), int(seen[:, ch.PULSES_DOWN].sum())


@pytest.mark.parametrize(("litres_min", "share"), [
    (6.0, 1.0), (1.0, 1.0), (0.75, 0.85), (0.51, 0.706), (0.5, 0.0), (0.2, 0.0)])
def test_a_meter_gives_450_pulses_a_litre_and_fewer_below_its_floor(litres_min, share):
    # Good from 1 L/min; from there down to its stall at 0.5 L/min it reads from all down to
    # seven tenths, then nothing.  Five minutes.
    flow = litres_min / 60000.0
    due = litres_min * 5 * 450 * share
    assert pulses(up_m3_s=flow) == (pytest.approx(due, abs=1.0), 0)
    assert pulses(down_m3_s=flow) == (0, pytest.approx(due, abs=1.0))


def test_a_meters_gain_is_its_own(rigs):
    # 1 L/s: 45 pulses a scan.
    off = (rigs[:, [ch.PULSES_UP, ch.PULSES_DOWN]] / 45 - 1) / 0.02
    assert off.std(axis=0) == pytest.approx([1.0, 1.0], abs=0.25)
    assert np.abs(off).max() < math.sqrt(3) + 0.02
    assert abs(np.corrcoef(off.T)[0, 1]) < 0.5


def test_a_part_of_a_pulse_is_kept_till_it_is_whole_also_over_a_pause():
    one = plant(steady(0.0), HALF)
    sensors = Sensors({**RIG, **EXACT}, one, 1)
    values = [0] * ch.READ
    seen = {ch.PULSES_UP: [], ch.PULSES_DOWN: []}
    # 20 mL/s: 0.9 of a pulse a scan.
    for flow in (2e-5, 0.0, 0.0, 2e-5, 2e-5):
        one.up.flow = one.down.flow = flow
        sensors.read(values)
        for place, counts in seen.items():
            counts.append(values[place])
    assert list(seen.values()) == [[0, 0, 0, 1, 1], [0, 0, 0, 1, 1]]


def test_pulses_of_missed_scans_come_with_the_next_that_is_read():
    one = plant(steady(0.0), HALF)
    one.up.flow, one.down.flow = 2e-5, 4e-5
    sensors = Sensors({**RIG, **EXACT}, one, 1)
    sensors.gain[ch.FLOW_UP], sensors.gain[ch.FLOW_DOWN] = 1.0, 0.5
    values = [0] * ch.READ
    for _ in range(9):
        sensors.count()
    one.up.flow = one.down.flow = 0.0
    sensors.read(values)
    assert (values[ch.PULSES_UP], values[ch.PULSES_DOWN]) == (8, 8)     # 8.1 and 16.2 / 2 due
    sensors.read(values)
    assert values[ch.PULSES_UP] == values[ch.PULSES_DOWN] == 0


def test_a_longer_period_makes_as_many_more_pulses():
    one = plant(steady(0.0), HALF)
    one.up.flow = 1.001e-4
    sensors = Sensors({**RIG, **EXACT}, one, 1)
    sensors.period_s = 1.0
    values = [0] * ch.READ
    sensors.read(values)
    assert values[ch.PULSES_UP] == 45


# Ranges and turns --------------------------------------------------------------------------


CLIPS = {  # channel -> (what carries the current, range [A])
    ch.PANEL_MA: ("up__panel_A", 8.0), ch.PUMP_MA: ("up__pump_A", 5.0),
    ch.GENERATOR_MA: ("down__generator_A", 0.4), ch.LAMP_MA: ("down__lamp_A", 0.4),
    ch.SUPPLY_MA: ("battery__amps", 0.8)}


@pytest.mark.parametrize("channel", CLIPS)
def test_each_monitor_says_when_its_current_is_beyond_its_own_range(channel):
    name, most_A = CLIPS[channel]
    above = read(still(**{name: most_A * 1.01}), 6)
    assert set(above[3:, channel]) == {ch.INVALID + ch.CLIPPED}
    others = set(CLIPS) - {channel}
    assert not (above[3:, sorted(others)] < -10000).any()
    below = read(still(**{name: most_A * 0.99}), 6)
    assert np.all(below[3:, channel] == pytest.approx(990 * most_A, rel=0.03))


def test_the_temperatures_are_read_once_a_second():
    one = still()
    sensors = Sensors(RIG, one, 1)
    values = [0] * ch.READ
    changes = {ch.MOTOR_MDEGC: [], ch.WATER_MDEGC: []}
    for scan in range(40):
        before = list(values)
        one.motor.felt_degC, one.frost.degC = 20.0 + scan, 1.0 + scan
        sensors.read(values)
        for place, scans in changes.items():
            if values[place] != before[place]:
                scans.append(scan)
    assert list(changes.values()) == [[0, 10, 20, 30], [0, 10, 20, 30]]


def test_a_temperature_below_nought_is_rounded_like_one_above():
    one = still(frost__degC=-10.0)
    one.motor.felt_degC = -10.0
    seen = read(one, 4000, every=10, changes={"sensors.temperature_uncertainty_K": 1e-9})
    assert seen[:, ch.WATER_MDEGC].mean() == pytest.approx(-10000, abs=10)
    assert seen[:, ch.MOTOR_MDEGC].mean() == pytest.approx(-10000, abs=10)


def test_values_that_are_held_are_put_where_the_list_has_lost_them():
    one = still()
    sensors = Sensors(RIG, one, 1)
    values = [0] * ch.READ
    for _ in range(6):
        sensors.read(values)
    kept = list(values)
    held = [ch.PANEL_MV, ch.PANEL_MA, ch.LAMP_MA, ch.SUPPLY_MV, ch.SUPPLY_MA, *TEMPERATURES]
    for place in held:
        values[place] = 0
    sensors.hold(values)
    assert values == kept


def test_a_resolution_coarser_than_a_thousandth_is_read_in_its_steps():
    coarse = {"sensors.current_resolution_A": 0.004, "sensors.level_resolution_m": 0.0100004,
              "sensors.voltage_resolution_V": 0.0002}
    seen = read(still(), 60, changes=coarse)
    assert np.all(seen[3:, ch.PANEL_MA] % 4 == 0)
    assert np.all(seen[3:, ch.LEVEL_MM] % 10 == 0)
    assert len(set(seen[3:, ch.GENERATOR_MV] % 10)) > 3
