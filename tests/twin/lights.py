"""Stories of light in closed loop: see tests/stories.py."""

from keeper import modes
from keeper import settings as st
from keeper.events import LIGHT_LASTS, LIGHT_PLANNED
from keeper.operation import orders
from keeper.protection.elements import number
from tests.campaign.coarse import CoarseTwin, coarse_means
from tests.campaign.scene import Watched, demo, staged, steady

SCANS = 100                # of a mean of 10 s
SETTLING = 900             # scans after a start or a change of setpoint


def lamp_means(twin, count):
    """Returns `count` means of the true lamp power over 10 s [W]."""
    means = []
    for _ in range(count):
        energy_J = twin.plant.down.lamp_J
        for _ in range(SCANS):
            twin.step()
        means.append((twin.plant.down.lamp_J - energy_J) / 10.0)
    return means


def held(rig, settings, wanted_W, settling, count):
    """Returns (means of 10 s [W], moves of the valve, its motor's seconds, J of the lamps, found).

    settling: scans after the order, before the first of `count` means; found: the hazards.
    """
    twin = Watched(rig, settings, steady(0.0))
    assert twin.until(lambda one: one.keeper.state == modes.RUNNING)
    assert twin.order(orders.LIGHT, round(1000 * wanted_W), 600) == orders.DONE
    for _ in range(settling):
        twin.step()
    drive, lit_J = twin.plant.down.drive, twin.plant.down.lamp_J
    moves, ran_s = drive.moves, drive.motor_s
    means = lamp_means(twin, count)
    twin.close()
    return (means, drive.moves - moves, drive.motor_s - ran_s, twin.plant.down.lamp_J - lit_J,
            twin.watch.found)


def stepped(order):
    """Returns ([W] after each step of brightness, the highest [V], of 59-GEN, hazards)."""
    twin = staged(modes.RUNNING, {"upper.start_volume_m3": 0.95, "lower.start_volume_m3": 0.3})
    watts, highest_V = [], 0.0
    for step in order:
        twin.order(orders.BRIGHTNESS, step, 60)
        for _ in range(SETTLING):
            twin.step()
            highest_V = max(highest_V, twin.plant.down.generator_V)
        watts.append(twin.plant.down.generator_V * twin.plant.down.lamp_A)
    twin.close()
    acting = bool(twin.keeper.core.protection.acting[number("59-GEN") - 1])
    return watts, highest_V, acting, twin.watch.found


def nights(length_h, wanted_mW, count=2):
    """Lives some days with dark nights of a length [h]; returns what each night said and gave.

    A night: (events of the plan, hours of light, hours that the light lasted).
    """
    minutes = count * 1440 + 1
    lit = round(1440 - 60 * length_h)
    poa = [700.0 if minute % 1440 < lit else 0.0 for minute in range(minutes)]
    rig, settings = demo({"lower.start_volume_m3": 1.2})
    settings[st.index("setpoint_mW")] = wanted_mW
    sun = (poa, [25.0] * minutes, [14.0] * minutes)
    found = []
    with coarse_means():
        twin = CoarseTwin(rig, settings, sun)
        for _ in range(count):
            said, lit_s, dark_s = _night(twin, lit)
            found.append((said, lit_s / 3600, dark_s / 3600))
        twin.close()
    return found


def _night(twin, lit_min):
    """Lives till the next dawn; returns (events, seconds of light, seconds of night)."""
    said = []
    post = twin.keeper.events.post

    def heard(code, argument, argument2):
        if code in (LIGHT_PLANNED, LIGHT_LASTS):
            said.append((code, argument, argument2))
        post(code, argument, argument2)

    twin.keeper.events.post = heard
    lit_s = dark_s = 0.0
    day = twin.plant.time_s // 86400
    while twin.plant.time_s // 86400 == day:
        before_s = twin.plant.time_s
        twin.step()
        passed_s = twin.plant.time_s - before_s
        if before_s % 86400 >= 60 * lit_min:
            dark_s += passed_s
            if twin.plant.down.generator_V * twin.plant.down.lamp_A > 0.2:
                lit_s += passed_s
    twin.keeper.events.post = post
    return said, lit_s, dark_s
