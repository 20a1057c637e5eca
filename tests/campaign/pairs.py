"""Pairs of faults: only these, each reviewed, with the hardware that then remains.

A pair is declared with the first element and what must not come true although
the firmware has lost its eyes, and with the hardware that remains; what that
limits and does not avert is a row of `waivers`.
"""

from __future__ import annotations

from typing import NamedTuple

from keeper import modes
from tests.campaign import expected, waivers
from tests.campaign.scene import staged
from tests.campaign.singles import Log, bring_on

OVERFLOW = "overflow pipe, led away from electrics; 71HH-UP's own contact in the pump's supply"
THERMOSTAT = "thermostat in the pump's supply, 15 K over 26-MOT"
HAND_VALVE = "clamp rated for runaway for ever; hand valve before the turbine"
SPIN = "whatever hangs on the rectifier stands the runaway voltage; hand valve"
STAYS = "hand valve; the lower tank's overflow"


class Pair(NamedTuple):
    """Two faults, and what is to be seen of them."""

    faults: tuple        # the second is brought on `gap` scans after the first
    state: int
    first: str           # element that must act first
    then: tuple          # elements that must act too
    remains: str         # the hardware that still acts
    changes: dict = {}
    watch_s: float = 600.0
    gap: int = 10
    sun_W_m2: float | None = None


PAIRS = (
    Pair(("level-stuck", "upper-float-stuck"), modes.PUMPING, "71HH-UP", (), OVERFLOW,
         changes={"upper.start_volume_m3": 0.957}, watch_s=1500.0),
    Pair(("upper-float-stuck", "pump-switch-welded"), modes.PUMPING, "71H-LVL", ("3-SW",),
         OVERFLOW, changes={"upper.start_volume_m3": 0.955}, watch_s=1500.0),
    Pair(("pump-switch-welded", "lower-tank-dry"), modes.STANDSTILL, "71L-LO", ("3-SW",),
         THERMOSTAT + "; isolator at the panel", watch_s=3600.0),
    Pair(("motor-sensor-loose", "bearing-stiff"), modes.PUMPING, "49-MOT", (), THERMOSTAT,
         {"upper.start_volume_m3": 0.06}, sun_W_m2=1000.0, watch_s=1800.0),
    Pair(("motor-sensor-stuck", "jacket-blocked"), modes.PUMPING, "3-STK", (), THERMOSTAT,
         {"upper.start_volume_m3": 0.06}, 7200.0),
    Pair(("clamp-lost", "load-lost"), modes.RUNNING, "59-GEN", (), SPIN),
    Pair(("load-lost", "valve-stuck"), modes.RUNNING, "59-GEN", ("48-VLV",), HAND_VALVE),
    Pair(("valve-sensor-open", "valve-stuck"), modes.RUNNING, "3-VLV", (), HAND_VALVE),
    Pair(("low-float-stuck", "level-stuck"), modes.RUNNING, "3-VOL", ("80-VLV",), STAYS,
         changes={"upper.start_volume_m3": 0.075, "lower.start_volume_m3": 1.2}, watch_s=3600.0),
    Pair(("water-sensor-lost", "frost"), modes.STANDSTILL, "3-WTR", (),
         "drained each autumn by hand: the alarm of the lost sensor says so",
         watch_s=7200.0),
    Pair(("thermometers-swapped", "jacket-blocked"), modes.PUMPING, "3-THM", (), THERMOSTAT,
         {"upper.start_volume_m3": 0.06}, 3600.0, sun_W_m2=1000.0),
    Pair(("motor-sensor-loose", "jacket-blocked"), modes.PUMPING, "3-THM", (), THERMOSTAT,
         {"upper.start_volume_m3": 0.06}, 3600.0, sun_W_m2=1000.0),
    Pair(("meter-up-noise", "strainer-blocked"), modes.PUMPING, "80-PMP", ("48-PMP",), THERMOSTAT,
         watch_s=1500.0),
    Pair(("meter-down-noise", "hand-valve-shut"), modes.RUNNING, "80-VLV", (), STAYS,
         watch_s=60.0),
    Pair(("load-lost", "power-cut"), modes.RUNNING, "59-GEN", (), HAND_VALVE),
)


def run(pair: Pair, stall_s=0.0, disabled=(), seed=1):
    """Runs a pair; returns what went against its declaration [sentences] and what acted."""
    blind = {name for fault in pair.faults for name in expected.BLINDS.get(fault, ())}
    twin = staged(pair.state, pair.changes, pair.sun_W_m2, disabled=disabled, stall_s=stall_s,
                  blind=blind, seed=seed)
    try:
        log = Log(twin)
        for fault in pair.faults:
            bring_on(twin, fault)
            for _ in range(pair.gap):
                twin.step()
                log.follow()
        for _ in range(int(pair.watch_s * 10)):
            twin.step()
            log.follow()
        return _judged(pair, twin, log)
    finally:
        twin.close()


def _judged(pair, twin, log):
    acted = [one for one, _ in log.acted]
    failures = waivers.judged(twin.watch.found, " + ".join(pair.faults))
    if not acted or acted[0] != pair.first:
        failures.append(f"first {acted[0] if acted else 'none'}, expected {pair.first}")
    failures += [f"{one} did not follow" for one in pair.then if one not in acted]
    return tuple(failures), tuple(dict.fromkeys(acted))
