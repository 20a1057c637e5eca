"""A rehearsal as JSON and as lines for the terminal."""

from datetime import datetime

from forebay.rehearse.options import DAY_S
from forebay.rehearse.run import Rehearsal, files
from forebay.rig import summary
from forebay.rig.instruments import mask
from forebay.shelf.fitted import totals_measured
from forebay.shelf.local import maybe_iso
from forebay.twin.faults import ANY_MODE, F_FIRST, F_MODE, F_NAME, FAULTS
from forebay.words.operation import MODES
from forebay.words.protection import ACTIONS, ELEMENTS
from keeper.events import ACTED, LOCKOUT
from keeper.protection.elements import RECORD, TRIP

PASSED_S = 1800  # a fault of which nothing is to trip is over by then
CAUTION = ("A rehearsal is no proof: nothing may be connected to water, sun or lamps before a"
           " real board has passed the bench sheet of hardware/commissioning.md.")


def acted(run: Rehearsal) -> list[dict]:
    """Return each act of an element that was told by itself, and lockouts: id, action, time."""
    return [
        {
            "element": ELEMENTS[element].id,
            "action": "lockout" if code == LOCKOUT else ACTIONS[action].name,
            "utc": maybe_iso(utc_s),
        }
        for code, element, action, utc_s in run.events
        if code in (ACTED, LOCKOUT)
    ]


def outcomes(run: Rehearsal) -> list[dict]:
    """Return what followed each fault: the element expected first, and the one that was."""
    start_s = run.plan.sun.start_utc.timestamp()
    table = {row[F_NAME]: row for row in FAULTS}
    found = []
    for at_s, name in run.plan.faults:
        expected = table[name][F_FIRST] or None
        # Where nothing is to trip, ordinary stops are no answer to the fault.
        mildest = RECORD if expected else TRIP
        until_s = min([later for later, _ in run.plan.faults if later > at_s], default=DAY_S)
        if not expected:
            until_s = min(until_s, at_s + PASSED_S)
        after = [one for one in run.events if one[0] == ACTED and one[2] >= mildest
                 and start_s + at_s <= one[3] < start_s + until_s]
        first = min(after, key=lambda one: one[3], default=None)
        found.append({
            "name": name,
            "utc": maybe_iso(start_s + at_s),
            "expected_first": expected,
            "first": ELEMENTS[first[1]].id if first else None,
            "first_after_s": round(first[3] - start_s - at_s, 1) if first else None,
        })
    return found


def document(run: Rehearsal) -> dict:
    """Return the rehearsal as a JSON document, as described in docs/json.md."""
    plan, truth = run.plan, run.truth
    measured = totals_measured(mask(plan.rig.plant()))
    track = plan.sun
    return {
        "rig": plan.rig.rig.name,
        "sun": str(track.source),
        "local_day": str(track.day),
        "utc_offset_h": track.utc_offset_h,
        "start_utc": track.start_utc.isoformat(),
        "simulated_s": run.simulated_s,
        "interrupted": run.interrupted,
        "scans": truth["scans"],
        "interpreter": run.interpreter,
        "interpreter_note": run.interpreter_note,
        "simulation_wall_s": round(run.simulation_wall_s, 3),
        "real_time_factor": round(run.real_time_factor, 1),
        "setpoint_mW": truth["setpoint_mW"],
        "true_energy_J": truth["energy_J"],
        "true_volume_L": truth["volume_L"],
        "closure_mass_frac": truth["mass_error_frac"],
        "closure_energy_frac": truth["energy_error_frac"],
        "board_totals": {name: truth["totals"][name] if there else None
                         for name, there in measured.items()},
        "faults": outcomes(run),
        "elements_acted": acted(run),
        "lockouts": truth["lockouts"],
        "pull": run.pulled.as_json(),
        "balance": run.review.balance.as_json(),
        "assumed": plan.notes,
        "figures": len(plan.rig.figures),
        "figures_assumed": len(plan.rig.assumed) if plan.rig.marked else 0,
        "lacking": summary.document(plan.rig.plant()),
        "files": {kind: str(path) for kind, path in files(plan).items()},
    }


def closing_lines(run: Rehearsal) -> list[str]:
    """Return what the terminal shows after the summary: the twin's books, speed and files."""
    truth = run.truth
    paths = files(run.plan)
    lines = [
        *[_fault_lines(run, one) for one in outcomes(run)],
        f"twin: {truth['scans']} scans in {run.simulation_wall_s:.1f} s"
        f" ({run.real_time_factor:,.0f} x real time); spilled"
        f" {truth['volume_L']['spilled']:.1f} L",
        f"      under {run.interpreter}",
        f"      its books close to {truth['mass_error_frac']:.0e} in mass,"
        f" {truth['energy_error_frac']:.0e} in energy",
        f"page: {paths['review']}",
        f"also: {paths['shelf']}  {paths['report']}",
    ]
    if run.interpreter_note:
        lines.insert(0, f"not under the faster interpreter: {run.interpreter_note}")
    if run.interrupted:
        lines.insert(0, f"interrupted after {run.simulated_s / 3600:.1f} h of the day")
    return lines


def _fault_lines(run, fault):
    """Return two lines on what followed a fault."""
    when = run.review.time(datetime.fromisoformat(fault["utc"]).timestamp())
    expected = fault["expected_first"] or "no trip"
    seen = "no element acted" if fault["expected_first"] else "nothing tripped"
    if fault["first"]:
        seen = f"{fault['first']} acted {fault['first_after_s']:.1f} s later"
    needs = ""
    mode = next(row[F_MODE] for row in FAULTS if row[F_NAME] == fault["name"])
    if fault["first"] != fault["expected_first"] and mode != ANY_MODE:
        needs = f" (it needs {MODES[int(mode)]} mode)"
    return f"fault {fault['name']} at {when}: {seen};\n      expected {expected}{needs}"
