"""What is proposed for a wish is a rig: it loads, its monitors read its currents."""

import numpy as np
import pytest

from forebay import rig as rigs
from forebay.plan import light, planning, sizing
from forebay.plan.limits import Nights, changed
from forebay.rig.loading import faults_of
from tests.bench.plan_for import written
from tests.campaign.rigs import drawn

CLEARNESS = 0.5
SURE = sizing.Doubts(0.0, 0.0, 0.0)
BY_LEVELS = 7        # seed of a random rig whose tanks are known by tables of levels


def asked(rig, wish):
    """What is proposed on the days of a stated clearness, with no spread."""
    nights, _, _ = planning.nights_of(rig, None, CLEARNESS)
    return sizing.proposed(rig.plant(), wish, nights, SURE)


@pytest.mark.parametrize("demo", rigs.DEMOS)
def test_a_rig_as_it_is_has_no_faults(demo):
    assert faults_of(rigs.load(demo=demo).plant()) == []


@pytest.mark.parametrize(("demo", "power_W"), [("hillside", 0.9), ("orchard", 0.3)])
def test_what_is_proposed_loads_and_gives_settings(demo, power_W):
    rig = rigs.load(demo=demo)
    values = rig.plant()
    found = asked(rig, sizing.Wish(4.0 * 3600.0, power_W, 0.5))
    assert found
    changes = {place: value for place, value in found.values.items() if value != values[place]}
    again = rigs.load_text(written(rig.toml_text, changes), "proposed")
    loaded = again.plant()
    assert {place: loaded[place] for place in changes} == pytest.approx(changes)
    assert len(again.settings()) == len(rig.settings())


def test_a_monitor_reads_what_the_larger_panel_gives():
    # 1.3: snow or a cloud's rim adds to the sun, as the loader asks; own convention.
    rig = rigs.load(demo="hillside")
    values = {**rig.plant(), "sensors.panel_range_A": 1.0}
    nights, _, _ = planning.nights_of(rig, None, CLEARNESS)
    found = sizing.proposed(values, sizing.Wish(3600.0, 0.9, 0.5), nights, SURE)
    assert found
    assert found.values["sensors.panel_range_A"] >= max(
        1.0, 1.3 * found.values["panel.short_circuit_current_A"])


def test_a_panel_beyond_every_monitor_is_not_proposed_and_the_reason_is_told():
    rig = rigs.load(demo="hillside")
    nights, _, _ = planning.nights_of(rig, None, CLEARNESS)
    dull = Nights(nights.sun._replace(poa_W_m2=0.45 * nights.sun.poa_W_m2), nights.night_s,
                  nights.weight)
    part, _ = sizing.part(rig.plant(), sizing.Wish(3600.0, 0.9, 0.9), dull, SURE, True)
    assert "sensors.panel_range" in part.warns[0]


def test_the_least_panel_is_the_least_of_those_that_are_looked_at():
    rig = rigs.load(demo="orchard")
    nights, _, _ = planning.nights_of(rig, None, CLEARNESS)
    wish = sizing.Wish(3.0 * 3600.0, 0.15, 0.6)
    found = sizing.proposed(rig.plant(), wish, nights, SURE)
    assert found
    place = sizing.FACTORS.index(found.panel)
    assert found.share >= wish.share
    if place:
        smaller = sizing._parallel(found.values, sizing.FACTORS[place - 1] / found.panel, 1.0)
        assert sizing._kept(smaller, nights, found.water_m3, 0.0) < wish.share


def test_a_tank_known_by_its_levels_grows_like_any_other():
    values = rigs.load_text(drawn(BY_LEVELS)["toml"], "levels").plant()
    larger = changed(values, (("upper.volumes_m3", 1.5),))
    assert light.usable_m3(larger) == pytest.approx(1.5 * light.usable_m3(values))
    assert np.array(larger["upper.volumes_m3"]) == pytest.approx(
        1.5 * np.array(values["upper.volumes_m3"]))
    assert faults_of(larger) == []
