"""Totalizers against Python's own integers, which have no limit."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper import channels as ch
from keeper.protection.derived import VALUES
from keeper.totals import TotalsBank
from tests.keeper.small_int import SmallInt

PULSE_UP_NL, PULSE_DOWN_NL, LIT_MW = 2_222_222, 3_456_789, 10
POWERS = (ch.T_PANEL, ch.T_PUMP, ch.T_SUPPLY_IN, ch.T_SUPPLY_OUT, ch.T_GENERATOR, ch.T_LAMP)

scan = some.fixed_dictionaries(
    {
        ch.PANEL_MV: some.integers(0, 60_000),
        ch.PANEL_MA: some.integers(0, 8000),
        ch.PUMP_MA: some.integers(0, 8000),
        ch.GENERATOR_MV: some.integers(0, 40_000),
        ch.GENERATOR_MA: some.integers(0, 8000),
        ch.LAMP_MA: some.integers(0, 8000),
        ch.SUPPLY_MV: some.integers(0, 40_000),
        ch.SUPPLY_MA: some.integers(-8000, 8000),
        ch.PULSES_UP: some.integers(0, 100),
        ch.PULSES_DOWN: some.integers(0, 100),
    }
)
step = some.tuples(scan, some.sampled_from([0, 1, 1, 1, 2, 13, 600]), some.integers(0, 1))


def bank():
    return TotalsBank(PULSE_UP_NL, PULSE_DOWN_NL, LIT_MW)


def values_of(inputs):
    values = [SmallInt(0)] * VALUES
    for place, value in inputs.items():
        values[place] = SmallInt(value)
    return values


def unlimited(sums, values, periods, pump_on):
    """Adds one scan to the sums in uW * 0.1 s, nL and ms, with no thought for size."""
    v = [int(value) for value in values]
    supply = v[ch.SUPPLY_MV] * v[ch.SUPPLY_MA]
    sums[ch.T_PANEL] += v[ch.PANEL_MV] * v[ch.PANEL_MA] * periods
    sums[ch.T_PUMP] += v[ch.PANEL_MV] * v[ch.PUMP_MA] * periods
    sums[ch.T_SUPPLY_IN] += max(0, supply) * periods
    sums[ch.T_SUPPLY_OUT] += max(0, -supply) * periods
    sums[ch.T_GENERATOR] += v[ch.GENERATOR_MV] * v[ch.GENERATOR_MA] * periods
    lamp = v[ch.GENERATOR_MV] * v[ch.LAMP_MA]
    sums[ch.T_LAMP] += lamp * periods
    sums[ch.T_UP] += v[ch.PULSES_UP] * PULSE_UP_NL
    sums[ch.T_DOWN] += v[ch.PULSES_DOWN] * PULSE_DOWN_NL
    sums[ch.T_PUMP_MS] += 100 * periods if pump_on else 0
    sums[ch.T_LIGHT_MS] += 100 * periods if not pump_on and lamp > LIT_MW * 1000 else 0


def whole(sums):
    """The sums in the units of the totals, as whole numbers."""
    # 1 mJ = 1000 uJ and a scan is 0.1 s, hence 10 000 uW-scans; 1 uL = 1000 nL.
    units = [10_000] * 6 + [1000] * 2 + [1] * 2
    return [total // unit for total, unit in zip(sums, units, strict=True)]


def limbs(totals):
    return [
        int(high) * ch.LIMB + int(low) for low, high in zip(totals.low, totals.high, strict=True)
    ]


@given(some.lists(step, max_size=60))
def test_totals_equal_unlimited_integers_and_never_fall(steps):
    totals, sums, before = bank(), [0] * len(ch.TOTALS), [0] * len(ch.TOTALS)
    for number, (inputs, periods, pump_on) in enumerate(steps):
        values = values_of(inputs)
        totals.add(values, SmallInt(periods), pump_on)
        unlimited(sums, values, periods, pump_on)
        if number % 3 == 0:
            totals.settle()
            assert limbs(totals) == whole(sums)
        assert all(now >= then for now, then in zip(limbs(totals), before, strict=True))
        before = limbs(totals)
    totals.settle()
    assert limbs(totals) == whole(sums)


@given(
    some.lists(some.integers(0, ch.LIMB - 1), min_size=10, max_size=10),
    some.lists(step, min_size=1, max_size=20),
)
def test_a_total_goes_on_from_what_the_journal_kept_across_the_limb(low, steps):
    low = [max(value, ch.LIMB - 1 - value % 1000) for value in low]
    totals, sums = bank(), [0] * len(ch.TOTALS)
    totals.restore([SmallInt(value) for value in low], [SmallInt(7)] * len(low))
    for inputs, periods, pump_on in steps:
        totals.add(values_of(inputs), SmallInt(periods), pump_on)
        unlimited(sums, values_of(inputs), periods, pump_on)
    totals.settle()
    assert limbs(totals) == [
        7 * ch.LIMB + kept + more for kept, more in zip(low, whole(sums), strict=True)
    ]
    assert all(0 <= limb < ch.LIMB for limb in totals.low)


def test_the_carry_is_made_at_exactly_a_thousand_million():
    totals = bank()
    totals.restore([ch.LIMB - 1] * 10, [0] * 10)
    values = values_of({ch.PANEL_MV: 1000, ch.PANEL_MA: 9})
    totals.add(values, 1, 0)
    totals.settle()
    assert (totals.high[ch.T_PANEL], totals.low[ch.T_PANEL]) == (0, ch.LIMB - 1)
    totals.add(values_of({ch.PANEL_MV: 1000, ch.PANEL_MA: 1}), 1, 0)
    totals.settle()
    assert (totals.high[ch.T_PANEL], totals.low[ch.T_PANEL]) == (1, 0)


def test_the_largest_legal_values_stay_small_through_late_scans():
    totals = TotalsBank(1_000_000, 1_000_000, LIT_MW)
    highest = {place: ch.CHANNELS[place][ch.CH_HIGH] for place in range(ch.COLUMNS)}
    values = values_of(highest | {ch.PULSES_UP: 536, ch.PULSES_DOWN: 536})
    totals.restore([SmallInt(ch.LIMB - 1)] * 10, [SmallInt(0)] * 10)
    for periods in [1] * 50 + [600] * 20:
        totals.add(values, SmallInt(periods), periods % 2)
    totals.settle()
    # 60 V * 8 A = 480 W for 50 and 12 000 periods of 0.1 s, by hand: 578.4 kJ
    assert limbs(totals)[ch.T_PANEL] == ch.LIMB - 1 + 578_400_000


@given(some.lists(some.tuples(some.integers(-500, 8000), some.integers(-500, 60_000))))
def test_noise_below_zero_lowers_no_total(noise):
    totals, before = bank(), [0] * len(ch.TOTALS)
    for amps, volts in noise * 3:
        totals.add(values_of({ch.PANEL_MA: amps, ch.PANEL_MV: volts}), SmallInt(600), 0)
        totals.settle()
        assert all(now >= then for now, then in zip(limbs(totals), before, strict=True))
        before = limbs(totals)


def test_noise_around_zero_averages_out():
    totals = bank()
    for number in range(10_000):
        amps = (-3, 3, -1, 1, 0)[number % 5]
        totals.add(values_of({ch.PANEL_MA: amps, ch.PANEL_MV: 25_000}), 1, 0)
    totals.settle()
    assert limbs(totals)[ch.T_PANEL] <= 10


@pytest.mark.parametrize("index", POWERS)
def test_energy_is_named_in_millijoules(index):
    assert ch.TOTALS[index].endswith("_mJ")
