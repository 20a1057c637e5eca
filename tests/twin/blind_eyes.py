"""Stories of faults that blind or deceive an instrument: see tests/stories.py."""

from forebay.twin.effects import apply
from keeper.channels import PULSES_DOWN, PULSES_UP
from keeper.protection.elements import E_ID, ELEMENTS
from tests.twin.rigs import HALF, PUMPING, RUNNING, in_state, run_until, steady, twin

SCAN_S = 0.1
LOW = {"upper.start_volume_m3": 0.1}     # room for hours of pumping
FULL = {"upper.start_volume_m3": 0.9}


def bring_on(one, *names):
    """Lets faults of the catalogue come, by name."""
    for name in names:
        apply(name, one.plant, one.leads)


def acting(one):
    """Ids of the elements that act now."""
    bits = one.keeper.acting
    return {row[E_ID] for index, row in enumerate(ELEMENTS) if bits >> index & 1}


def played(one, seconds):
    """Steps; returns (ids in the order in which they acted, starts of the pump)."""
    acted, starts, before = [], 0, one.plant.pump_commanded
    for _ in range(round(seconds / SCAN_S)):
        one.step()
        acted += [name for name in acting(one) if name not in acted]
        starts += one.plant.pump_commanded and not before
        before = one.plant.pump_commanded
    return acted, starts


def pumping(folder):
    """Returns a twin that has pumped for half a minute."""
    one = twin(folder, steady(900.0), LOW)
    run_until(one, PUMPING, 200)
    one.run(300)
    return one


def in_air(one, air_degC):
    """A night in this air."""
    one.plant.motor.degC = one.plant.motor.felt_degC = one.plant.frost.degC = air_degC


def hottest_degC(folder, wrong, sun, air_degC, hours):
    """The hottest that a motor with a blocked jacket becomes with a wrong thermometer."""
    one = twin(folder, steady(sun, air_degC=air_degC), LOW)
    in_air(one, air_degC)
    bring_on(one, wrong, "jacket-blocked")
    hottest = 0.0
    for _ in range(round(hours * 3600 / SCAN_S)):
        one.step()
        hottest = max(hottest, one.plant.motor.degC)
    return hottest


def healthy(folder, sun, air_degC, water_degC, seconds):
    """(What acted on a healthy motor, the litres it has lifted)."""
    one = twin(folder, steady(sun, air_degC=air_degC),
               {**LOW, "site.water_temperature_degC": water_degC})
    in_air(one, air_degC)
    acted, _ = played(one, seconds)
    return acted, 1000 * one.plant.up.volume_m3


def tried(folder, fault, seconds, per_s=0):
    """(What acted, starts) of a pump with a fault, under false pulses of its meter."""
    one = twin(folder, steady(900.0), LOW)
    if per_s:
        one.leads.pulses(PULSES_UP, per_s)
    bring_on(one, fault)
    return played(one, seconds)


def weak_sun(folder, sun, lower_m3, per_s, seconds):
    """What acted on a pump in weak sun under false pulses."""
    one = twin(folder, steady(sun), {**LOW, "lower.start_volume_m3": lower_m3})
    one.leads.pulses(PULSES_UP, per_s)
    return played(one, seconds)[0]


def noise_at_the_penstock(folder, state, is_pumping):
    """What is left of water and light under noise on the penstock's meter, and what acted."""
    day = ([800.0 if is_pumping else 5.0] * 30 + [0.0] * 1411, [35.0] * 1441, [14.0] * 1441)
    one = twin(folder, day, HALF)
    if is_pumping:
        run_until(one, PUMPING, 200)
    one.run(300)
    one.leads.pulses(PULSES_DOWN, 5)
    acted, _ = played(one, 300.0)
    lockouts, still = one.keeper.lockouts, in_state(state)(one)
    run_until(one, RUNNING, 3600)
    one.run(1200)
    return lockouts, acted, still, one.plant.down.lamp_A * one.plant.down.generator_V


def leaking_seat(folder, others, within_s):
    """What acts once a seat that leaks has locked the light out."""
    one = twin(folder, steady(5.0), HALF)
    one.run(1500)
    bring_on(one, "seat-leaks", *others)
    run_until(one, lambda it: it.keeper.lockouts, within_s)
    return acting(one)


def light_without_water(folder, seconds):
    """What acts on a light that gets no water while its meter hums."""
    one = twin(folder, steady(0.0), HALF)
    run_until(one, RUNNING, 400)
    one.run(1800)
    one.leads.pulses(PULSES_DOWN, 5)
    bring_on(one, "hand-valve-shut")
    return played(one, seconds)[0]


def at_the_pump(folder, fault, seconds):
    """What acts on a pump that runs, and gets a fault; without one its thermostat opens."""
    one = pumping(folder)
    if fault:
        bring_on(one, fault)
    else:
        one.plant.thermostat_degC = -50.0
    return played(one, seconds)[0]


def over_its_rating(folder, rated_W, seconds):
    """(Seconds that a generator gives more than its rating, what acted): its lamps read low."""
    one = twin(folder, steady(0.0), FULL)
    run_until(one, RUNNING, 400)
    one.run(1800)
    bring_on(one, "lamp-current-low")
    over_s, acted = 0.0, []
    for _ in range(round(seconds / SCAN_S)):
        one.step()
        acted += [name for name in acting(one) if name not in acted]
        down = one.plant.down
        over_s += SCAN_S * (down.generator_V * down.generator_A > rated_W)
    return over_s, acted
