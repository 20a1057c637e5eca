"""Where leads fail the keeper's own code judges them, in the twin as on a board."""

import itertools

import pytest

from forebay.twin.judged import Judged
from forebay.twin.leads import Leads
from keeper import channels as ch
from keeper.protection.elements import SENSOR_MS, number
from tests.twin.rigs import HALF, PUMPING, RUNNING, run_until, steady, twin

SCANS = 3000
SECOND = 10               # scans


def flickering(seed, scans=SCANS):
    """Returns what a loose contact reads, scan by scan."""
    leads = Leads(seed)
    leads.flickers(3)
    seen = []
    for _ in range(scans):
        values = [1] * 8
        leads.disturb(values)
        seen.append(values[3])
        assert values[:3] + values[4:] == [1] * 7
    return seen


def lengths(seen, value):
    return [len(list(run)) for one, run in itertools.groupby(seen) if one == value]


def test_a_loose_contact_opens_for_up_to_two_seconds_at_random_times():
    seen = flickering(1, 20 * SCANS)
    opened = lengths(seen, 0)
    assert min(opened) == 1
    assert max(opened) == 20
    # 1.025 s open and 30.5 s closed in the mean: of 190 openings the mean is known to 5 %.
    assert sum(opened) / len(opened) == pytest.approx(10.25, rel=0.2)
    assert len(opened) == pytest.approx(6000 / 31.5, rel=0.15)
    assert len(set(lengths(seen, 1))) > 50


def test_a_loose_contact_opens_at_the_same_times_for_the_same_seed_only():
    assert flickering(1) == flickering(1) != flickering(2)


def test_what_opens_for_less_than_the_wanted_scans_is_not_believed(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    one.run(5)
    one.leads.flickers(ch.C_71H_UP)
    raw, believed = [], []
    disturb = one.leads.disturb

    def seen(values):
        disturb(values)
        raw.append(values[ch.C_71H_UP])

    one.leads.disturb = seen
    for _ in range(20 * SCANS):
        one.step()
        believed.append(one.keeper.values[ch.C_71H_UP])
    scans = one.board.rig["board.contact_scans"]
    assert scans == 2
    assert 1 in lengths(raw, 0)
    assert len(lengths(believed, 0)) == sum(length >= scans for length in lengths(raw, 0))
    assert min(lengths(believed, 0)) == scans


@pytest.mark.parametrize(("sun_W_m2", "state"), [(700.0, PUMPING), (0.0, RUNNING)])
def test_sound_leads_read_the_same_through_the_keepers_own_code(tmp_path, sun_W_m2, state):
    one = twin(tmp_path, steady(sun_W_m2), HALF)
    run_until(one, state, 700)
    judged = None
    temperatures = (ch.MOTOR_MDEGC, ch.WATER_MDEGC)
    late = []
    for _ in range(300):
        one.step()
        values = list(one.keeper.values)
        late = [*late[-SECOND:], [values[place] for place in temperatures]]
        if judged is None:
            judged = Judged(one.board.rig, ch.ALL_FITTED, (one.sensors.due - 1) % 3)
            judged.prime(values)
        judged.read(values, ())
        # A voltage has no sign in the monitor's register.
        expected = list(one.keeper.values)
        expected[ch.GENERATOR_MV] = max(0, expected[ch.GENERATOR_MV])
        expected[ch.PANEL_MV] = max(0, expected[ch.PANEL_MV])
        # A thermometer is read once a second, here a part of a second later.
        for column, place in enumerate(temperatures):
            assert values[place] in [row[column] for row in late]
            expected[place] = values[place]
        assert values == expected


def test_a_lost_monitor_is_bridged_for_one_reading_and_comes_back_within_its_turn(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    run_until(one, RUNNING, 700)
    one.run(100)
    one.leads.drops(ch.GENERATOR_MA)
    seen = []
    for _ in range(30):
        one.step()
        seen.append(int(one.keeper.values[ch.GENERATOR_MA] == ch.INVALID))
    # The first of seven is bridged; then each monitor in turn is looked for, one a scan.
    assert seen[0] == 0
    assert seen[1:7] == [1] * 6
    assert lengths(seen, 1) == [sum(seen)]
    assert 6 <= sum(seen) <= 6 + len(ch.MONITORS)
    assert SENSOR_MS < 600      # six scans
    assert one.keeper.core.protection.first == number("3-GEN")


def test_monitors_are_lost_for_seven_scans_of_every_90_seconds():
    leads = Leads()
    leads.drops(ch.LAMP_MA)
    lost = []
    for _ in range(2 * 901):
        leads.disturb([0] * ch.READ)
        lost.append(int(leads.lost == (ch.LAMP_MA,)))
    assert lengths(lost, 1) == [7, 7]
    assert lost[0] == lost[901] == 1
    # In turns of three and five: no loss falls on the same ones as the one before.
    assert 901 % 3 == 901 % 5 == 1


def test_damaged_readings_of_a_thermometer_are_bridged(tmp_path):
    one = twin(tmp_path, steady(700.0), HALF)
    run_until(one, PUMPING, 200)
    one.leads.garbles(ch.MOTOR_MDEGC)
    off_degC = []
    for _ in range(SCANS):
        one.step()
        off_degC.append(one.keeper.values[ch.MOTOR_MDEGC] / 1e3 - one.plant.motor.felt_degC)
    assert one.board.judged
    assert one.board.judged.thermometers.faults == pytest.approx(SCANS / 10 * 0.2, rel=0.4)
    # sqrt 3 times the uncertainty, noise, and some seconds of a motor that warms.
    assert max(map(abs, off_degC)) < 0.9 + 3 * 0.06 + 1.0
    assert not one.keeper.acting


def test_a_thermometer_that_stays_away_is_given_up_after_its_time(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    one.run(20)
    one.leads.garbles(ch.WATER_MDEGC)
    one.leads.draws.uniform = lambda: 0.0
    came_s = run_until(one, lambda one: one.keeper.values[ch.WATER_MDEGC] == ch.INVALID, 20)
    stale_s = one.board.rig["board.temperature_stale_s"]
    assert stale_s < came_s - 2.0 <= stale_s + 2.0


def test_a_board_that_starts_while_a_lead_fails_begins_as_a_board_does(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    one.run(20)
    one.leads.flickers(ch.C_71H_UP)
    one.run(20)
    one.keeper = one._boot()
    one.step()
    values = one.keeper.values
    # What has had no turn yet has no answer; loops have been read before the first scan.
    assert values[ch.LAMP_MA] == ch.INVALID
    assert values[ch.PUMP_MA] != ch.INVALID
    assert values[ch.C_71L_UP] == values[ch.C_STOP] == 1
    one.run(3)
    assert values[ch.LAMP_MA] != ch.INVALID
