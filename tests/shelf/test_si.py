"""What the board's numbers are in SI, and which of them are not to be trusted."""

import numpy as np
import pytest

from forebay import si
from forebay.words.measured import REASONS
from keeper.channels import (
    CH_HIGH,
    CH_LOW,
    CH_NAME,
    CH_UNIT,
    CHANNELS,
    INVALID,
    LEVEL_MM,
    TOTALS,
)
from keeper.journal.rows import NOT_TRUSTED

# Factors of the SI prefixes milli and micro, and the litre: SI brochure, 9th edition, tables 7, 8.
MILLI, MICRO, LITRE_M3 = 1e-3, 1e-6, 1e-3


@pytest.mark.parametrize(("name", "text", "in_si", "factor"), [
    ("panel_mV", "V", "panel_V", MILLI),
    ("first_pump_mA", "A", "first_pump_A", MILLI),
    ("flow_up_uL_s", "m3/s", "flow_up_m3_s", MICRO * LITRE_M3),
    ("up_uL", "m3", "up_m3", MICRO * LITRE_M3),
    ("motor_mdegC", "degC", "motor_degC", MILLI),
    ("valve_permille", "-", "valve_frac", MILLI),
    ("pump_mJ", "J", "pump_J", MILLI),
    ("light_ms", "s", "light_s", MILLI),
])  # fmt: skip
def test_the_end_of_a_name_says_the_unit(name, text, in_si, factor):
    unit = si.unit_of(name)
    assert (unit.text, si.si_name(name)) == (text, in_si)
    assert unit.factor == pytest.approx(factor, rel=1e-15)


def test_every_channel_and_every_total_has_a_unit_and_a_name_without_one_is_refused():
    for row in CHANNELS:
        assert str(row[CH_NAME]).endswith(str(row[CH_UNIT]).replace("/", "_"))
        assert si.unit_of(str(row[CH_NAME])).factor > 0
    assert {si.unit_of(name).text for name in TOTALS} == {"J", "m3", "s"}
    with pytest.raises(KeyError, match="boot"):
        si.unit_of("boot")


def test_every_legal_reading_is_trusted_and_every_reason_is_told():
    for row in CHANNELS:
        assert si.is_trusted(row[CH_LOW])
        assert si.is_trusted(row[CH_HIGH])
    for number, reason in REASONS.items():
        assert not si.is_trusted(INVALID + number)
        assert si.reason_of(INVALID + number) == reason
    assert si.reason_of(INVALID + len(REASONS)) == "unknown"


def test_a_power_is_known_where_both_its_readings_are():
    live = {"panel_mV": 24_000, "pump_mA": 1500}
    assert si.maybe_power_W(live, "panel_mV", "pump_mA") == pytest.approx(36.0)
    for name in live:
        assert si.maybe_power_W(live | {name: INVALID}, "panel_mV", "pump_mA") is None
    assert si.maybe_si({"level_mm": INVALID}, "level_mm") is None


def test_a_stored_value_is_steps_of_its_channel_and_nan_where_not_trusted():
    found = si.stored_si(np.array([1234, NOT_TRUSTED, -100], "i2"), LEVEL_MM)
    assert found[[0, 2]] == pytest.approx([1.234, -0.1])
    assert np.isnan(found[1])
