"""Stories of faults of the catalogue that last for hours: see tests/stories.py."""

from forebay.twin.effects import apply
from keeper.protection.elements import E_ID, ELEMENTS
from tests.twin.rigs import PUMPING, run_until, steady, twin


def blocked_jacket(folder, hours):
    """Returns (first that acts, None = nothing; the hottest [degC] that the motor becomes)."""
    one = twin(folder, steady(800.0), {"upper.start_volume_m3": 0.06})
    run_until(one, PUMPING, 200)
    one.run(300)
    apply("jacket-blocked", one.plant, one.leads)
    hottest = 0.0
    acted = None
    for _ in range(hours * 36000):
        one.step()
        hottest = max(hottest, one.plant.motor.degC)
        if acted is None and one.keeper.acting:
            acted = ELEMENTS[one.keeper.acting.bit_length() - 1][E_ID]
    return acted, hottest
