"""Stories of a pump that runs dry under a supply that comes and goes: see tests/stories.py."""

from keeper import modes as mo
from keeper.channels import OUT_PUMP
from tests.twin.remembering import remembering
from tests.twin.rigs import in_state, run_until, steady

DARK_SCANS = 10              # how long the supply is away

# When the supply is cut: by scans since the last cut, scans that the pump is on, a trip.
CUTS = {
    "every 100 s": lambda since, _on, _tripped: since >= 1000,
    "at the trip": lambda _since, _on, tripped: tripped,
    "2 s after the start": lambda _since, on, _tripped: on >= 20,
}


def dry_starts(folder, cut, hours):
    """Returns how often the switch of a dry pump was closed in some hours with cuts."""
    one = remembering(folder, steady(800.0))
    run_until(one, in_state(mo.STANDSTILL), 100)
    one.plant.air_in_pump = True
    cut_is_due = CUTS[cut]
    starts, was_on, on_scans = 0, 0, 0
    since_cut = 0
    for _ in range(hours * 36000):
        one.step()
        on = one.powered and one.keeper.outputs[OUT_PUMP]
        starts += on and not was_on
        on_scans = on_scans + 1 if on else 0
        tripped = was_on and not on
        was_on = on
        since_cut += 1
        if one.powered and cut_is_due(since_cut, on_scans, tripped):
            one.cut()
            one.dark_until = one.periods + DARK_SCANS
            was_on = since_cut = on_scans = 0
    return starts
