"""Mistakes of a first wiring, by name: what a proof test must find before water and sun do.

They are no part of the catalogue of faults, which are what fails later in a rig that was right.
A mistake changes the leads or what drives the plant, never the keeper.
"""

from forebay.twin.leads import Leads
from keeper import channels as ch

REVERSED_PERCENT = -100
# A shunt of half the ohms that the rig states: every current reads half.
WRONG_PERCENT = 50
WHOLE_PERMILLE = 1000

# name, what is wrong, way of `Leads` or None, its arguments
_SWAPPED = (
    ("full-floats-swapped", "LSH-UP and LSHH-UP are on each other's pair",
     Leads.swaps, (ch.C_71H_UP, ch.C_71HH_UP)),
    ("low-floats-swapped", "LSL-UP and LSL-LO are on each other's pair",
     Leads.swaps, (ch.C_71L_UP, ch.C_71L_LO)),
    ("lower-floats-swapped", "LSL-LO and LSH-LO are on each other's pair",
     Leads.swaps, (ch.C_71L_LO, ch.C_71H_LO)),
    ("upper-floats-swapped", "LSH-UP and LSL-UP are on each other's pair",
     Leads.swaps, (ch.C_71H_UP, ch.C_71L_UP)),
    ("stop-and-float-swapped", "the stop and LSH-LO are on each other's pair",
     Leads.swaps, (ch.C_STOP, ch.C_71H_LO)),
    ("meters-swapped", "the two flow meters are on each other's input",
     Leads.swaps, (ch.PULSES_UP, ch.PULSES_DOWN)),
    ("thermometers-crossed", "motor and coldest pipe have each other's sensor",
     Leads.swaps, (ch.MOTOR_MDEGC, ch.WATER_MDEGC)),
)
_SHUNTS = tuple([
    (name + "-shunt-" + how, what.format(name), Leads.grows, (place, percent))
    for name, place in (("panel", ch.PANEL_MA), ("pump", ch.PUMP_MA),
                        ("generator", ch.GENERATOR_MA), ("lamp", ch.LAMP_MA),
                        ("supply", ch.SUPPLY_MA))
    for how, what, percent in (
        ("reversed", "the two sense leads of the {} shunt are swapped", REVERSED_PERCENT),
        ("wrong", "the {} shunt has half the ohms that rig.toml says", WRONG_PERCENT))])
_VALVE = (
    ("valve-motor-reversed", "the two leads of the valve's motor are swapped", None, ()),
    ("valve-sensor-reversed", "the ends of the valve's position sensor are swapped",
     Leads.mirrors, (ch.VALVE_PERMILLE, WHOLE_PERMILLE)),
)
MISWIRED = _SWAPPED + _SHUNTS + _VALVE
NAMES = tuple([row[0] for row in MISWIRED])


def apply(name, plant, leads):
    """Wire a rig wrongly from now on.  Raises ValueError for a name that is none."""
    for row, _, way, arguments in MISWIRED:
        if row == name:
            if way is None:
                plant.drive_s_ms = -plant.drive_s_ms
            else:
                way(leads, *arguments)
            return
    raise ValueError("no such mistake: " + name)
