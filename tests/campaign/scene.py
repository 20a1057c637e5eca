"""Rigs on the stage: a twin that is watched, brought into a state of operation.

Owns how a twin is begun, how a person acts on it, and how an element is taken
out of its table; knows no fault and no verdict.
"""

import shutil
import tempfile
from pathlib import Path

from forebay.twin.twin import Twin
from keeper import modes
from keeper import settings as st
from keeper.journal.opening import open_journal
from keeper.operation import orders
from keeper.protection.elements import number
from keeper.protection.judging import R_INDEX, watched
from tests.campaign import lesser
from tests.campaign.hazards import Watch
from tests.campaign.wishes import BEGAN, MIN_S, PRESSED, STOPPED, TANK, Told, Wishes

MINUTES = 1441
SUN_W_M2 = 800.0
AIR_DEGC = 14.0
CELL_DEGC = 35.0
LONGEST_WAY = 9000        # scans that a way to a state may take
_RAM = Path("/dev/shm")


def steady(irradiance_W_m2, air_degC=AIR_DEGC):
    """Returns a sun that stands still."""
    return ([irradiance_W_m2] * MINUTES, [CELL_DEGC] * MINUTES, [air_degC] * MINUTES)


def change_rows(protection, change):
    """Replaces every compiled row of the elements by change(row), None = without it."""
    def changed(rows):
        return tuple(new for new in map(change, rows) if new)

    # A row that begins to count is taken from here.
    protection.by_index = [row and (change(row) or row) for row in protection.by_index]
    protection.rows = changed(protection.rows)
    protection.sensor_rows = changed(protection.sensor_rows)
    protection.above = watched(protection.rows, 1, protection.armed)
    protection.below = watched(protection.rows, -1, protection.armed)


def wishes_of(rig, settings):
    """Returns the wishes of a rig as they stand before anybody asks for anything."""
    return Wishes(settings[st.index("setpoint_mW")] / 1000, rig["lamps.steps_W"],
                  settings[st.index("longest_night_min")] * MIN_S,
                  bool(settings[st.index("at_dusk")]),
                  settings[st.index("light_press_min")] * MIN_S)


class Watched(Twin):
    """A twin whose every step is judged, with elements disabled in every boot."""

    def __init__(self, rig, settings, sun, disabled=(), stall_s=0.0, blind=(), seed=1,
                 spoil=None, **more):
        """Takes what `Twin` takes, ids of elements to disable, permissives that are blinded.

        spoil: a function that makes each boot's keeper worse, for those who test the judges.
        """
        self.spoil = spoil
        self.disabled = [number(one) - 1 for one in disabled]
        self.folder = tempfile.mkdtemp(dir=_RAM if _RAM.is_dir() else None)
        rig_id = settings[st.index("rig_id")]
        self.wishes = wishes_of(rig, settings)
        super().__init__(rig, settings, sun,
                         lambda: open_journal(self.folder + "/board", rig_id, st.VERSION),
                         seed=seed, stall_s=stall_s, **more)
        self.watch = Watch(self, rig, stall_s, (*blind, *lesser.blind(settings)),
                           step_s=0.1 * self.scan_periods)

    def close(self):
        """Forgets the journal."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _boot(self):
        if self.periods:
            self.wishes.tell(Told(self.plant.time_s, BEGAN))
        keeper = super()._boot()
        change_rows(keeper.core.protection, lambda row: (
            None if row[R_INDEX] in self.disabled else row))
        if self.spoil:
            self.spoil(keeper)
        return keeper

    def step(self):
        """A step, and a look at the truth."""
        super().step()
        self.watch.check()

    def until(self, seen, longest=LONGEST_WAY):
        """Steps until a condition holds; returns whether it came."""
        for _ in range(longest):
            if seen(self):
                return True
            self.step()
        return False

    def order(self, code, a, b=0):
        """Gives an order while the board is powered; returns its answer."""
        if not self.powered:
            return None
        answer = self.keeper.order(code, a, b)
        if answer == orders.DONE:
            self.wishes.tell(Told(self.plant.time_s, code, a, b))
            if code == orders.RESET:
                self.watch.reset()
        return answer

    def press(self, closed):
        """Presses the button, or lets it go."""
        self.board.button = closed
        if closed:
            self.wishes.tell(Told(self.plant.time_s, PRESSED))
            self.watch.reset()

    def stop(self, pressed):
        """Presses the local stop, or lets it go."""
        self.plant.press_stop(pressed)
        self.wishes.tell(Told(self.plant.time_s, STOPPED, int(pressed)))

    def tank(self, is_open):
        """Turns the hand valve at the tank's outlet."""
        self.plant.tank_valve_open = is_open
        self.plant.rewire()
        self.wishes.tell(Told(self.plant.time_s, TANK, int(is_open)))


def demo(changes=(), name=""):
    """Returns (rig, settings) of the demo's rig; changes: {"section.key_unit": value}.

    name: of a rig with less, instead.
    """
    told = lesser.told(name)
    return {**told["rig"], **dict(changes)}, list(told["settings"])


def _in(state):
    return lambda twin: twin.powered and twin.keeper.state == state


def _standstill(twin):
    twin.order(orders.PUMP_ALLOWED, 0, orders.DAY_MIN)
    return twin.until(_in(modes.STANDSTILL)) and _rest(twin, 1500)


def _rest(twin, scans):
    for _ in range(scans):
        twin.step()
    return True


def _trial(twin):
    return twin.until(_in(modes.TRIAL))


def _pumping(twin):
    return twin.until(_in(modes.PUMPING)) and _rest(twin, 300) and _in(modes.PUMPING)(twin)


def _running(twin):
    if not twin.settings[st.index("at_dusk")]:   # nothing of it sees the dusk: by order
        twin.order(orders.LIGHT, twin.settings[st.index("setpoint_mW")], 600)
    return twin.until(_in(modes.RUNNING)) and _rest(twin, 1800) and _in(modes.RUNNING)(twin)


def _closing(twin):
    if not _running(twin):
        return False
    twin.order(orders.REST, 60)
    return twin.until(_in(modes.CLOSING))


def _draining(twin):
    twin.order(orders.DRAIN_DOWN, 1, 60)
    return twin.until(_in(modes.DRAINING)) and _rest(twin, 100)


def _maintenance(twin):
    twin.order(orders.MAINTAIN, 2)
    return twin.until(_in(modes.MAINTENANCE)) and _rest(twin, 50)


# state -> (sun [W/m2], way to it); the trial of a start and closing last a few scans
WAYS = {
    modes.STANDSTILL: (SUN_W_M2, _standstill),
    modes.TRIAL: (SUN_W_M2, _trial),
    modes.PUMPING: (SUN_W_M2, _pumping),
    modes.RUNNING: (0.0, _running),
    modes.CLOSING: (0.0, _closing),
    modes.DRAINING: (SUN_W_M2, _draining),
    modes.MAINTENANCE: (SUN_W_M2, _maintenance),
}


def staged(state, changes=(), sun_W_m2=None, onset_scans=0, name="", **more):
    """Returns a watched twin that stands in a state, `onset_scans` [-] later than needed.

    name: of its rig, see `lesser`.
    """
    half_m3 = 0.52 * lesser.told(name)["rig"]["upper.full_volume_m3"] if name else 0.5
    rig, settings = demo({"upper.start_volume_m3": half_m3, **dict(changes)}, name)
    sun, way = WAYS[state]
    twin = Watched(rig, settings, steady(sun if sun_W_m2 is None else sun_W_m2), **more)
    if not way(twin):
        twin.close()
        raise AssertionError(f"{modes.STATES[state][0]} was not reached")
    for _ in range(onset_scans):
        if not _in(state)(twin) or state in (modes.TRIAL, modes.CLOSING):
            break
        twin.step()
    return twin
