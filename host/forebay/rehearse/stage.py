"""The simulated board as a process of its own: the day of a twin, then its serial line.

Any Python from 3.9 on runs this file, by its path: it needs the standard
library, the keeper and the twin, not `forebay` itself.  It is told what to do
and answers in lines of JSON on stdin and stdout: who it is; after each piece
of the day how far it is, upon which it hears whether to go on; the port at
which the board then answers; and, once that may be closed, what was true.
A job that is to be served goes on at the pace of a clock instead: see `paced`; one with
wishes for light is a span's own conditions: see `conditioned`.  After a replay it hears the
next job.
"""

import importlib.util
import json
import os
import platform
import sys
import types

GO_ON, STOP = "go on", "stop"
CHUNK_PERIODS = 6000   # between two reports: 10 min of the day
L_PER_M3 = 1000.0


def packages(keeper, forebay):
    """Make `keeper` and what is needed of `forebay` importable from their folders."""
    found = importlib.util.spec_from_file_location(
        "keeper", os.path.join(keeper, "__init__.py"), submodule_search_locations=[keeper])
    if found is None or found.loader is None:
        raise ImportError("no keeper in " + keeper)
    sys.modules["keeper"] = importlib.util.module_from_spec(found)
    found.loader.exec_module(sys.modules["keeper"])
    for name in ("forebay", "forebay.rehearse"):
        module = types.ModuleType(name)
        module.__path__ = [os.path.join(forebay, *name.split(".")[1:])]
        sys.modules[name] = module


def interpreter():
    """Return the name of this interpreter and its version, for a person."""
    python = platform.python_version()
    of_pypy = getattr(sys, "pypy_version_info", None)
    if of_pypy:
        return f"PyPy {'.'.join(map(str, of_pypy[:3]))} (Python {python})"
    return f"{platform.python_implementation()} {python}"


class Caller:
    """Whoever started this process, at the other end of its pipes."""

    def __init__(self):
        # Whatever else is printed must not come between the lines.
        self._out = os.fdopen(os.dup(1), "w", encoding="utf-8")
        os.dup2(2, 1)

    def tell(self, **facts):
        """Say something."""
        self._out.write(json.dumps(facts) + "\n")
        self._out.flush()

    def hear(self):
        """Wait for what is said; leave if nobody is there any more."""
        line = sys.stdin.readline()
        if not line:
            raise SystemExit
        return json.loads(line)


def play(job, caller):
    """Play the day of a job through, serve the board's line, say what was true."""
    from forebay.rehearse.serving import Served
    from forebay.twin.twin import Twin
    from keeper.clock import PERIOD_MS, TICKS_MASK

    twin = Twin(job["rig"], job["settings"], job["sun"], lambda: journal_of(job),
                [(at_s, name) for at_s, name in job["faults"]], job["seed"])
    while twin.periods < job["periods"]:
        twin.run(min(CHUNK_PERIODS, job["periods"] - twin.periods))
        caller.tell(periods=twin.periods)
        if caller.hear() == STOP:
            break
    played = twin.periods
    while not twin.powered:
        twin.step()  # the board's supply is off: a person would wait for it too
    now_ms = (twin.periods - twin.boot_period) * PERIOD_MS & TICKS_MASK
    with Served(twin.keeper, now_ms) as port:
        caller.tell(port=port, periods=twin.periods)
        caller.hear()
    caller.tell(truth=truth(twin, played))


def journal_of(job):
    """Return the journal of a job's board, opened as its start does."""
    from keeper import settings
    from keeper.journal.opening import open_journal

    return open_journal(job["board"], job["rig_id"], job["settings_version"],
                        fitted=job["settings"][settings.index("fitted")])


def truth(twin, played):
    """Return what was true of a twin, and what its board summed, as numbers and lists."""
    plant, keeper = twin.plant, twin.keeper
    up, down, upper, lower = plant.up, plant.down, plant.upper, plant.lower
    return {
        "periods": played,
        "scans": twin.scans,
        "scans_of_boot": keeper.scans,
        "setpoint_mW": keeper.setpoint_mW,
        "lockouts": keeper.lockouts,
        "newest_row": keeper.journal.newest_row,
        "energy_J": {
            "panel": up.panel_J, "pump": up.pump_J, "charge": up.node_charge_J,
            "lifted": up.lift_J, "released": down.released_J, "generator": down.generator_J,
            "lamps": down.lamp_J, "clamp": down.clamp_J, "board_load": plant.battery.board_J},
        "volume_L": {
            "up": up.volume_m3 * L_PER_M3, "down": down.volume_m3 * L_PER_M3,
            "spilled": (upper.spilled_m3 + lower.spilled_m3) * L_PER_M3,
            "upper_tank_at_end": upper.volume_m3 * L_PER_M3},
        "mass_error_frac": plant.mass_error(),
        "energy_error_frac": plant.energy_error(),
        "totals": totals(keeper),
    }


def totals(keeper):
    """Return the board's totals by name, in the unit that ends the name."""
    from keeper import channels as ch

    bank = keeper.totals
    bank.settle()
    return {name: bank.high[i] * ch.LIMB + bank.low[i] for i, name in enumerate(ch.TOTALS)}


def main(arguments):
    """Serve one caller; arguments: the folders of `keeper` and `forebay`."""
    caller = Caller()
    packages(*arguments)
    import forebay.twin.twin  # noqa: F401 - what this interpreter cannot read shows at once

    caller.tell(interpreter=interpreter())
    job = caller.hear()
    while "record" in job:     # of replays there may be several
        from forebay.replay.engine.played import play as replayed

        replayed(job, caller)
        job = caller.hear()
    if "speed" in job:
        from forebay.rehearse.paced import serve

        serve(job, caller)
    elif "wishes" in job:
        from forebay.rehearse.conditioned import play as conditioned

        conditioned(job, caller)
    else:
        play(job, caller)


if __name__ == "__main__":
    main(sys.argv[1:])
