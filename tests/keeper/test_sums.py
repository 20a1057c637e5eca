"""Totals of whole scans against sums in SI units and floats, made by another hand."""

import random

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.protection.derived import VALUES
from keeper.totals import TotalsBank
from tests.keeper.scripted import Bench
from tests.keeper.ways import NIGHT, SUN, WATER, bench_in

J_PER_MJ = 1e-3
PULSE_UP_NL, PULSE_DOWN_NL, LIT_MW = 2_222_222, 3_456_789, 10
# name of a total, its current, the sign of the power that it counts; volts are the panel's
# for panel and pump, the generator's for generator and lamps
ENERGIES = {
    "panel_mJ": (ch.PANEL_MV, ch.PANEL_MA, 1),
    "pump_mJ": (ch.PANEL_MV, ch.PUMP_MA, 1),
    "supply_in_mJ": (ch.SUPPLY_MV, ch.SUPPLY_MA, 1),
    "supply_out_mJ": (ch.SUPPLY_MV, ch.SUPPLY_MA, -1),
    "generator_mJ": (ch.GENERATOR_MV, ch.GENERATOR_MA, 1),
    "lamp_mJ": (ch.GENERATOR_MV, ch.LAMP_MA, 1),
}
NAMES = ch.TOTALS
FACTORS = sorted({place for volts, amps, _ in ENERGIES.values() for place in (volts, amps)})
# A rest below nothing is bounded to 2**28 uW x 0.1 s.
LARGEST_REST_J = 2**28 * 1e-6 * 0.1


def total(bank, name):
    """A total [in its unit], both limbs."""
    index = NAMES.index(name)
    return bank.high[index] * 1_000_000_000 + bank.low[index]


def settled(bank):
    bank.settle()
    return {name: total(bank, name) for name in NAMES}


def reading(chance):
    return {
        ch.PANEL_MV: chance.randint(0, 30_000), ch.PANEL_MA: chance.randint(0, 4000),
        ch.PUMP_MA: chance.randint(0, 3000), ch.GENERATOR_MV: chance.randint(0, 14_000),
        ch.GENERATOR_MA: chance.randint(0, 300), ch.LAMP_MA: chance.randint(0, 200),
        ch.SUPPLY_MV: chance.randint(11_000, 14_000), ch.SUPPLY_MA: chance.randint(-400, 900),
        ch.PULSES_UP: chance.randint(0, 9), ch.PULSES_DOWN: chance.randint(0, 7),
    }  # fmt: skip


def test_the_totals_of_a_story_are_volts_times_amperes_times_seconds():
    """Also through late and early scans, where a reading stands for all its time."""
    bench = Bench([("pulse_up_nL", PULSE_UP_NL), ("pulse_down_nL", PULSE_DOWN_NL)])
    bench.run(50, [(ch.SUPPLY_MA, 0), (ch.SUPPLY_MV, 12_000)])
    begun = settled(bench.scan.totals)
    chance = random.Random(7)
    joules, litres = dict.fromkeys(ENERGIES, 0.0), {"up_uL": 0.0, "down_uL": 0.0}
    for _ in range(3000):
        values = reading(chance)
        bench.set(values.items())
        before_ds = bench.scan.uptime_ds
        bench.step(chance.choice([100, 100, 100, 40, 160, 1300]))
        bench.drain()
        seconds = (bench.scan.uptime_ds - before_ds) / 10
        for name, (volts, amps, sign) in ENERGIES.items():
            watts = values[volts] / 1000 * values[amps] / 1000 * sign
            joules[name] += max(0.0, watts) * seconds
        litres["up_uL"] += values[ch.PULSES_UP] * PULSE_UP_NL / 1000
        litres["down_uL"] += values[ch.PULSES_DOWN] * PULSE_DOWN_NL / 1000
    ended = settled(bench.scan.totals)
    for name, energy_J in joules.items():
        assert energy_J > 100
        counted_J = (ended[name] - begun[name]) * J_PER_MJ
        assert counted_J == pytest.approx(energy_J, abs=2 * J_PER_MJ), name
    for name, volume_uL in litres.items():
        assert ended[name] - begun[name] == pytest.approx(volume_uL, abs=2), name


@pytest.mark.parametrize("place", FACTORS, ids=[ch.CHANNELS[p][ch.CH_NAME] for p in FACTORS])
@pytest.mark.parametrize("value", [ch.INVALID, 99_999])
def test_a_reading_that_is_not_trusted_adds_no_energy_and_keeps_no_other_from_counting(
    place, value
):
    chance = random.Random(1)
    values = {k: v for k, v in reading(chance).items() if k < ch.COLUMNS}
    values[ch.SUPPLY_MA] = 500
    bench = Bench()
    bench.run(5)
    begun = settled(bench.scan.totals)
    bench.run(100, [*values.items(), (place, value)])
    ended = settled(bench.scan.totals)
    for name, (volts, amps, sign) in ENERGIES.items():
        watts = values[volts] / 1000 * values[amps] / 1000 * max(0, sign)
        expected_J = 0 if place in (volts, amps) else watts * 10
        assert (ended[name] - begun[name]) * J_PER_MJ == pytest.approx(expected_J, abs=0.002), name
    assert bench.scan.values[place] == ch.INVALID  # the journal must not see a 0
    for kept in FACTORS:
        if kept != place:
            assert bench.scan.values[kept] == values[kept]


def test_channels_that_are_not_trusted_and_in_no_power_change_nothing():
    bench = Bench()
    bench.run(100, [(ch.PANEL_MV, 20_000), (ch.PANEL_MA, 1500), (ch.LEVEL_MM, ch.INVALID)])
    assert settled(bench.scan.totals)["panel_mJ"] == 300_000
    assert bench.scan.values[ch.LEVEL_MM] == ch.INVALID


# The bank by itself

def bank():
    return TotalsBank(PULSE_UP_NL, PULSE_DOWN_NL, LIT_MW)


def add(one, periods=1, pump_on=0, **inputs):
    values = [0] * VALUES
    for name, value in inputs.items():
        values[getattr(ch, name)] = value
    one.add(values, periods, pump_on)


@pytest.mark.parametrize("periods", [1, 2, 13, 600])
@pytest.mark.parametrize(("mA", "into"), [(250, "supply_in_mJ"), (-250, "supply_out_mJ")])
def test_the_battery_s_energy_is_booked_by_its_direction(mA, into, periods):
    """12 V x 0.25 A = 3 W for 0.1 s a period."""
    one = bank()
    add(one, periods, SUPPLY_MV=12_000, SUPPLY_MA=mA)
    totals = settled(one)
    assert totals.pop(into) == 300 * periods
    assert not any(totals.values())


@pytest.mark.parametrize("periods", [1, 600])
def test_a_battery_at_rest_is_booked_nowhere(periods):
    one = bank()
    add(one, periods, SUPPLY_MV=12_000)
    assert not any(settled(one).values())


@pytest.mark.parametrize("periods", [1, 2, 600])
@pytest.mark.parametrize(
    ("power_uW", "pump_on", "into"),
    [(10_000, 0, None), (10_001, 0, "light_ms"), (10_000, 1, "pump_ms"), (10_001, 1, "pump_ms"),
     (0, 0, None), (0, 1, "pump_ms")],
)  # fmt: skip
def test_time_is_counted_as_lit_above_the_lit_power_and_as_pumped_while_the_pump_is_on(
    power_uW, pump_on, into, periods
):
    """lit_mW is 10; 1 mV and so many mA are as many uW."""
    one = bank()
    add(one, periods, pump_on, GENERATOR_MV=1, LAMP_MA=power_uW)
    totals = settled(one)
    times = {name: totals[name] for name in ("light_ms", "pump_ms")}
    assert times == {name: 100 * periods if name == into else 0 for name in times}


def test_an_early_scan_brings_its_pulses_and_no_energy_or_time():
    one = bank()
    add(one, 0, 1, PULSES_UP=3, PULSES_DOWN=2, PANEL_MV=20_000, PANEL_MA=1000,
        SUPPLY_MV=12_000, SUPPLY_MA=100)  # fmt: skip
    totals = settled(one)
    assert totals.pop("up_uL") == 3 * PULSE_UP_NL // 1000
    assert totals.pop("down_uL") == 2 * PULSE_DOWN_NL // 1000
    assert not any(totals.values())


def test_each_meter_has_its_own_pulse():
    for name, into, pulse_nL in (("PULSES_UP", "up_uL", PULSE_UP_NL),
                                 ("PULSES_DOWN", "down_uL", PULSE_DOWN_NL)):  # fmt: skip
        one = bank()
        for _ in range(1000):
            add(one, **{name: 1})
        totals = settled(one)
        assert totals.pop(into) == pulse_nL  # a thousand pulses, nL to uL
        assert not any(totals.values())


@pytest.mark.parametrize("periods", [1, 600])
@pytest.mark.parametrize("amps", ["PANEL_MA", "PUMP_MA", "GENERATOR_MA", "LAMP_MA"])
def test_a_long_current_below_nothing_takes_back_no_more_than_the_largest_rest(amps, periods):
    """A monitor's offset through a night must not eat the next day's energy."""
    volts = "PANEL_MV" if amps in ("PANEL_MA", "PUMP_MA") else "GENERATOR_MV"
    name = {"PANEL_MA": "panel_mJ", "PUMP_MA": "pump_mJ", "GENERATOR_MA": "generator_mJ",
            "LAMP_MA": "lamp_mJ"}[amps]  # fmt: skip
    one = bank()
    for _ in range(600 if periods == 1 else 30):
        add(one, periods, **{volts: 20_000, amps: -500})
        assert settled(one)[name] == 0
    for _ in range(1000):
        add(one, **{volts: 20_000, amps: 1000})  # 20 W for 100 s
    gained_J = settled(one)[name] * J_PER_MJ
    assert 2000 - LARGEST_REST_J - 0.002 <= gained_J <= 2000 - LARGEST_REST_J + 1.001


@pytest.mark.parametrize("mA", [-1, 0, 1])
def test_a_late_scan_of_hardly_any_power_is_nothing_special(mA):
    one = bank()
    add(one, 600, PANEL_MV=1, PANEL_MA=mA)
    add(one, PANEL_MV=20_000, PANEL_MA=1000)
    assert settled(one)["panel_mJ"] == (2000 if mA >= 0 else 1999)


def test_what_is_not_settled_is_not_lost():
    """A rest below its unit stays until it makes one: 0.3 mJ a period."""
    one = bank()
    seen = []
    for _ in range(10):
        add(one, PANEL_MV=1000, PANEL_MA=3)
        seen.append(settled(one)["panel_mJ"])
    assert seen == [0, 0, 0, 1, 1, 1, 2, 2, 2, 3]


def test_totals_reach_their_limbs_without_a_reader():
    """Nobody settles: what is carried by itself lacks no more than the largest rest."""
    one = bank()
    for _ in range(20_000):
        add(one, 1, 1, PANEL_MV=20_000, PANEL_MA=1000, PUMP_MA=900, SUPPLY_MV=12_000,
            SUPPLY_MA=800, PULSES_UP=1, PULSES_DOWN=2)  # fmt: skip
    assert 40_000 - LARGEST_REST_J <= total(one, "panel_mJ") * J_PER_MJ <= 40_000
    assert 36_000 - LARGEST_REST_J <= total(one, "pump_mJ") * J_PER_MJ <= 36_000
    assert 19_200 - LARGEST_REST_J <= total(one, "supply_in_mJ") * J_PER_MJ <= 19_200
    assert 0 <= 20 * PULSE_UP_NL - total(one, "up_uL") <= 2**28 / 1000
    assert 0 <= 40 * PULSE_DOWN_NL - total(one, "down_uL") <= 2**28 / 1000
    assert 0 <= 2_000_000 - total(one, "pump_ms") < 60_000


def test_what_the_journal_kept_is_gone_on_from_in_each_total():
    one = bank()
    one.restore(list(range(10)), list(range(20, 30)))
    assert one.low == list(range(10))
    assert one.high == list(range(20, 30))


def test_the_pump_s_time_is_that_of_its_switch():
    bench = bench_in(mo.PUMPING)
    begun = settled(bench.scan.totals)
    bench.run(100, [SUN, WATER])
    ended = settled(bench.scan.totals)
    assert ended["pump_ms"] - begun["pump_ms"] == 10_000
    bench.run(300, [NIGHT, (ch.PULSES_UP, 0)])
    assert settled(bench.scan.totals)["light_ms"] == 0
