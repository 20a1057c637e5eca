"""Plays days of drawn rigs through; run by its path under any Python that the twin runs on.

Jobs come as lines of JSON on the standard input, what was true of each goes out as one;
the board's journal of each day stays in a folder.
"""

import functools
import json
import os
import runpy
import sys

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "..")
CHUNK = 6000             # periods between two looks of a person: 10 min
PRESS_S, LONG_S = 1.5, 3.0
SLACKS = 50              # a row is closed in some 20 pieces of slack


def play(job, folder):
    """Plays one day; returns what was true of it [SI]."""
    from forebay.twin.twin import PRESSED, RELEASED
    from keeper import settings as st
    from keeper.clock import PERIOD_S
    from keeper.journal.opening import open_journal

    rig_id = job["settings"][st.index("rig_id")]
    board = os.path.join(folder, "board")
    faults = []
    for at_s in job["presses"]:
        faults += [(at_s, PRESSED), (at_s + PRESS_S, RELEASED)]
    twin = kind(job["is_coarse"])(
        job["rig"], job["settings"], job["sun"],
        lambda: open_journal(board, rig_id, st.VERSION), faults, job["seed"])
    seen = Seen(twin, job) if job.get("is_whole") else None
    begun_J = twin.plant.upper.energy_J()
    begun_m3 = twin.plant.upper.volume_m3
    while twin.periods < job["periods"]:
        run_until(twin, min(twin.periods + CHUNK, job["periods"]), seen)
        now_s = twin.periods * PERIOD_S
        lit = any(at_s <= now_s < at_s + job["light_s"] for at_s in job["presses"])
        if twin.keeper.lockouts and not lit:
            # Somebody comes by and resets it, once the light is no longer asked for.
            twin.faults = sorted([*twin.faults, (now_s, PRESSED), (now_s + LONG_S, RELEASED)])
    found = true_of(twin.plant, begun_J, begun_m3)
    if seen:
        found.update(seen.told())
    run_until(twin, twin.periods + job["periods_after"])
    return found


def run_until(twin, period, seen=None):
    """Lets a twin run to a period [-]; a step of a coarse one stands for many.

    seen: told of each step.
    """
    while twin.periods < period:
        twin.run(1)
        if seen and twin.keeper.state != seen.state:
            seen.note()


class Seen:
    """What a bench of whole rigs wants to know besides: the tank at each change of state."""

    def __init__(self, twin, job):
        """Takes the twin before its first step; lets the tank leak as the job says."""
        twin.plant.leak_m3_s = job["leak_m3_s"]
        twin.plant.battery = counted()(job["rig"])
        self.twin, self.changes = twin, []
        self.note()

    def note(self):
        """Notes time [s], state, water [m3] and energy [J] in the tank, and water lost [m3]."""
        twin, upper = self.twin, self.twin.plant.upper
        self.state = twin.keeper.state
        self.changes.append((twin.periods / 10.0, self.state, upper.volume_m3, upper.energy_J(),
                             upper.removed_m3, upper.spilled_m3))

    def told(self):
        """Returns it all, with the energies into and out of the battery [J]."""
        self.note()
        battery, sensors = self.twin.plant.battery, self.twin.sensors
        return {"changes": self.changes, "supply_in": battery.in_J, "supply_out": battery.out_J,
                "gain": sensors.gain}


@functools.cache
def counted():
    """Returns the class of a battery that counts what goes in and out at its terminals.

    One for all days: of a new one a day the interpreter's compiled code grew without end.
    """
    from forebay.twin.store import Battery

    class Counted(Battery):
        """One with two books more.  in_J, out_J [J]."""

        in_J = out_J = 0.0

        def step(self, dt_s, charge_A, board_on):
            """As a battery does, and books it."""
            Battery.step(self, dt_s, charge_A, board_on)
            joules = self.volts * self.amps * dt_s
            if joules > 0.0:
                self.in_J += joules
            else:
                self.out_J -= joules

    return Counted


def kind(is_coarse):
    """Returns the class of a twin: at the board's 10 Hz, or at 1 Hz as the campaign has it."""
    from forebay.twin.twin import Twin

    if not is_coarse:
        return Twin
    from keeper.clock import PERIOD_MS, TICKS_MASK
    from keeper.modes import PUMPING
    from tests.campaign.coarse import CoarseTwin

    class Unwatched(CoarseTwin):
        """One whose steps nobody judges."""

        def __init__(self, *arguments):
            self.disabled, self.spoil = (), None
            self.wishes = self.watch = self
            Twin.__init__(self, *arguments)

        def step(self):
            """One scan, and as much slack as the board would have had by then."""
            super().step()
            if self.powered:
                now_ms = (self.periods - self.boot_period) * PERIOD_MS & TICKS_MASK
                for _ in range(SLACKS):
                    self.keeper.slack(now_ms)

        def _is_quiet(self):
            """Also while the pump's switch is closed in the dark: nothing moves then."""
            core, plant = self.keeper.core, self.plant
            return super()._is_quiet() or (
                self.powered and self.keeper.state == PUMPING and plant.up.light <= 0.0
                and plant.down.idle() and not self.board.button
                and not any(core.protection.count))

        def tell(self, _):
            """Hears no wish."""

        def check(self):
            """Judges nothing."""

    return Unwatched


def true_of(plant, begun_J, begun_m3):
    """Returns what was true, by the keys of the balance: energies [J], water [L]."""
    up, down, upper = plant.up, plant.down, plant.upper
    stored_J = (upper.energy_J() - begun_J + down.released_J + upper.spilled_J
                + upper.removed_J)
    return {
        "panel": up.panel_J, "pump": up.pump_J, "charge": up.node_charge_J,
        "stored": stored_J, "released": down.released_J, "generator": down.generator_J,
        "lamps": down.lamp_J, "clamp": down.clamp_J, "board_load": plant.battery.board_J,
        "up": 1e3 * up.volume_m3, "down": 1e3 * down.volume_m3,
        "gained": 1e3 * (upper.volume_m3 - begun_m3), "spilled": 1e3 * upper.spilled_m3,
        "end": 1e3 * upper.volume_m3,
    }


def main(stage, keeper, forebay, out):
    """Plays what is asked for until nothing more comes."""
    runpy.run_path(stage)["packages"](keeper, forebay)
    sys.path[0] = ROOT
    for line in sys.stdin:
        job = json.loads(line)
        folder = os.path.join(out, str(job.get("name", job["seed"])))
        os.makedirs(folder)
        print(json.dumps({"seed": job["seed"], "true": play(job, folder)}), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
