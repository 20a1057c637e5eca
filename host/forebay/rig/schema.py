"""Every section and key of a rig's description.

This one table drives the loader, its errors and the page docs/rig.md. Ranges
lie inside those of keeper.physics and keeper.settings, so that a description
that loads neither stops a calculation nor is refused by the board. The
defaults of the section sensors are the demo's stated uncertainties.
"""

from forebay.rig.batteries import CHEMISTRIES
from forebay.rig.keys import CHOICE, COUNT, NUMBER, OPTIONAL, TEXT, Derived, Key, Section
from forebay.rig.known import MODEL
from forebay.rig.rules import RULES, SENSORS
from forebay.rig.wired import BOARD, LINK
from keeper.physics import of_rig

RECTANGULAR, CYLINDER, TABLE = "rectangular", "upright cylinder", "table"


def _height(name):
    return Derived("the last of levels", lambda values: (values[f"{name}.levels_m"] or [None])[-1])


def _tank(name, base_low, base_high):
    return (
        Key("shape", CHOICE, choices=(RECTANGULAR, CYLINDER, TABLE), meaning="shape inside"),
        Key("length", "length", "0.05 m", "100 m", meaning="inside length", shape=RECTANGULAR),
        Key("width", "length", "0.05 m", "100 m", meaning="inside width", shape=RECTANGULAR),
        Key("diameter", "length", "0.05 m", "100 m", meaning="inside diameter", shape=CYLINDER),
        Key("levels", "length", "0 m", "20 m", meaning="levels of a measured table, from 0",
            shape=TABLE, counts=(2, 100)),
        Key("volumes", "volume", "0 L", "1000 m3", meaning="volumes at these levels, from 0",
            shape=TABLE, counts=(2, 100)),
        Key("height", "length", "0.1 m", "20 m", default=_height(name), meaning="inside height"),
        Key("base_height", "length", base_low, base_high,
            meaning="floor (the outlet) above the turbine's nozzle"),
        Key("start_volume", "volume", "0 L", "1000 m3", meaning="water when a rehearsal begins"),
    )


def _float(default):
    return Key("float_hysteresis", "length", "1 mm", "0.5 m", default,
               "how far the water must move back before a float switch does")


def _pipe():
    return (
        Key("length", "length", "0.1 m", "10 km", meaning="length of pipe"),
        Key("diameter", "length", "2 mm", "1 m", meaning="inside diameter"),
        Key("roughness", "length", "0 mm", "5 mm", "0.0015 mm",
            "equivalent sand roughness, at most 0.05 diameters"),
        Key("minor_loss", NUMBER, "0", "10000",
            meaning="sum of the loss coefficients of fittings, entrance and exit"),
    )


_WATER = (
    Section("rig", "The installation.", (
        Key("name", TEXT, "1", "60", meaning="name of the rig; its identity comes from it"),
    )),
    Section("site", "Where it stands.", (
        Key("latitude", "angle", "-90 deg", "90 deg", meaning="latitude, north positive"),
        Key("longitude", "angle", "-180 deg", "180 deg", meaning="longitude, east positive"),
        Key("height", "length", "-450 m", "6000 m", meaning="height above sea level"),
        Key("zone", TEXT, "1", "60", OPTIONAL,
            "time zone of its clock, by name, such as Europe/Madrid; absent = whole hours from"
            " UTC by its longitude, the same all year"),
        Key("air_temperature", "temperature", "-60 degC", "60 degC", OPTIONAL,
            "air temperature; absent = that of the sun file"),
        Key("water_temperature", "temperature", "0 degC", "40 degC", "12 degC",
            "temperature of the water"),
        Key("coldest_cell", "temperature", "-60 degC", "25 degC", "-20 degC",
            "coldest cells of the panel, on a clear winter's morning"),
        Key("hottest_air", "temperature", "0 degC", "60 degC", "40 degC",
            "hottest air in which the pump must start; its cells are 40 K warmer in full sun"),
    )),
    Section("upper", "The upper tank. Water returns to it by an air gap.", (
        *_tank("upper", "0.5 m", "200 m"),
        Key("inlet_height", "length", "0.5 m", "220 m",
            meaning="end of the rising main above the nozzle, over the overflow"),
        Key("empty_volume", "volume", "0 L", "1000 m3", meaning="71L-UP: nothing may leave"),
        Key("full_volume", "volume", "1 L", "1000 m3", meaning="71H-UP: the pump stops"),
        Key("over_full_volume", "volume", "1 L", "1000 m3", meaning="71HH-UP: the pump trips"),
        Key("overflow_volume", "volume", "1 L", "1000 m3", meaning="the overflow pipe runs"),
        _float("10 mm"),
    )),
    Section("lower", "The lower tank; its rim lies below the nozzle.", (
        *_tank("lower", "-100 m", "-0.05 m"),
        Key("low_volume", "volume", "0 L", "1000 m3", meaning="71L-LO: the pump stops"),
        Key("full_volume", "volume", "1 L", "1000 m3",
            Derived("98.5 % of what it holds",
                    lambda values: 0.985 * of_rig.tank(values, "lower.").capacity_m3),
            "71H-LO: nothing more may come down"),
        _float("10 mm"),
        Key("inflow", "flow", "0 L/min", "1000 L/min", "0 L/min", "steady inflow from outside"),
    )),
    Section("rising_main", "The pipe from the pump to the upper tank.", _pipe()),
    Section("penstock", "The pipe from the upper tank to the turbine.", (
        *_pipe(),
        Key("pressure_rating", "pressure", "0.5 bar", "100 bar", "6 bar",
            "what pipe, joints and valves are rated for, the least of them"),
    )),
    Section("support", "What the upper tank stands on. What is not stated is not judged.", (
        Key("tank_mass", "mass", "0 kg", "20000 kg", OPTIONAL,
            "the empty tank, its frame and what hangs on it"),
        Key("bearers", COUNT, "2", "8", OPTIONAL,
            "bearers under its deck, equally far apart, the outer ones at its edges"),
        Key("footprint_length", "length", "0.1 m", "100 m", OPTIONAL,
            "the support on what carries it: the feet's outer edges, lengthwise"),
        Key("footprint_width", "length", "0.1 m", "100 m", OPTIONAL, "and across"),
        Key("contact_area", "area", "1 cm2", "1000 m2", OPTIONAL,
            "of all feet on what carries them; absent = the whole footprint"),
        Key("stand_height", "length", "0 m", "50 m", OPTIONAL,
            "the tank's floor above what carries the support"),
        Key("gust", "speed", "1 m/s", "100 m/s", OPTIONAL,
            "three-second gust to be withstood there, by the local code or the building office"),
        Key("allowed_load", "load by area", "0.1 kN/m2", "10000 kN/m2", OPTIONAL,
            "what may stand on a square metre there, by whoever is licensed to say so: no figure"
            " of a similar roof or deck will do"),
        Key("allowed_bearer", "force", "10 N", "1000 kN", OPTIONAL,
            "what one bearer may carry, likewise"),
    )),
    Section("cables", "The long leads; what is not stated is not worked out.", (
        Key("panel_length", "length", "0.1 m", "1 km", OPTIONAL,
            "one way, from the panel to the pump"),
        Key("panel_section", "cross-section", "0.05 mm2", "300 mm2", OPTIONAL,
            "of each of its conductors"),
        Key("lamp_length", "length", "0.1 m", "1 km", OPTIONAL,
            "one way, from the generator to the lamps"),
        Key("lamp_section", "cross-section", "0.05 mm2", "300 mm2", OPTIONAL,
            "of each of its conductors"),
    )),
)

_MACHINES = (
    Section("panel", "The solar panel, at standard test conditions.", (
        Key("power", "power", "1 W", "1 kW", meaning="rated power"),
        Key("cells", COUNT, "1", "200", meaning="cells in series"),
        Key("open_circuit_voltage", "voltage", "1 V", "59 V", meaning="open-circuit voltage"),
        Key("short_circuit_current", "current", "0.05 A", "30 A", meaning="short-circuit current"),
        Key("best_voltage", "voltage", "0.5 V", "59 V", meaning="voltage at most power"),
        Key("best_current", "current", "0.05 A", "30 A", meaning="current at most power"),
        Key("voltage_temperature", "relative change", "-0.6 %/K", "-0.1 %/K", "-0.30 %/K",
            "change of the open-circuit voltage with temperature"),
        Key("current_temperature", "relative change", "-0.2 %/K", "0.2 %/K", "0.05 %/K",
            "change of the short-circuit current with temperature"),
        Key("tilt", "angle", "0 deg", "90 deg", meaning="tilt from horizontal"),
        Key("azimuth", "angle", "0 deg", "360 deg",
            meaning="direction it faces, clockwise from north"),
    )),
    Section("pump", "The pump, by its nameplate.", (
        Key("rated_voltage", "voltage", "3 V", "59 V", meaning="rated voltage"),
        Key("rated_power", "power", "0.5 W", "1 kW", meaning="power taken at the rated point"),
        Key("rated_speed", "rotational speed", "300 rpm", "20000 rpm", meaning="rated speed"),
        Key("shut_off_head", "length", "0.5 m", "200 m", meaning="head without flow"),
        Key("rated_head", "length", "0.1 m", "200 m", meaning="head at the rated point"),
        Key("rated_flow", "flow", "0.1 L/min", "1000 L/min", meaning="flow at the rated point"),
        Key("shut_off_torque_frac", "ratio", "0.05", "1", "0.4",
            "torque without flow over rated torque"),
    )),
    Section("motor", "The pump's motor: electrics and heat.", (
        # Above 30 ohm 14-PMP, and above 60 ohm 12-GEN, could never act: the board's range.
        Key("resistance", "resistance", "0.01 ohm", "30 ohm", meaning="winding resistance"),
        Key("no_load_current", "current", "1 mA", "4 A", meaning="current without load"),
        Key("cooled_resistance", "thermal resistance", "0.05 K/W", "50 K/W",
            meaning="to the water, while it pumps"),
        Key("still_resistance", "thermal resistance", "0.05 K/W", "100 K/W",
            meaning="to the surroundings, while it stands"),
        Key("heat_capacity", "heat capacity", "1 J/K", "20 kJ/K", meaning="heat capacity"),
        Key("sensor_lag", "time", "0.1 s", "600 s", "20 s", "lag of its temperature sensor"),
        Key("trip_temperature", "temperature", "30 degC", "110 degC", meaning="26-MOT trips"),
        Key("reset_temperature", "temperature", "20 degC", "100 degC",
            meaning="26-MOT lets go; below its trip"),
    )),
    Section("valve", "The motorised valve before the turbine.", (
        Key("flow_coefficient", "flow coefficient", "0.01 m3/h", "500 m3/h",
            meaning="Kvs: flow at 1 bar, fully open"),
        Key("characteristic", CHOICE, choices=("equal percentage", "linear"),
            meaning="how flow follows travel"),
        Key("rangeability", NUMBER, "5", "500", 50, "largest over smallest controllable flow"),
        Key("travel", "time", "0.5 s", "100 s", meaning="time from shut to fully open"),
        Key("shut_reading", "ratio", "0.1 %", "10 %", "0.5 %",
            "position reading at or below which it is shut"),
        Key("least_pulse", "time", "1 ms", "100 ms", "20 ms",
            "shortest time for which its motor may be switched on, and surely moves"),
        Key("coast", "time", "0 ms", "1 s", "12 ms",
            "time constant of its motor: how late it starts, how long it runs on"),
        Key("rest", "time", "0.2 s", "5 s", "0.2 s",
            "how long its motor stands before it turns the other way"),
        Key("backlash", "ratio", "0 %", "10 %", "0.4 %",
            "play of its gear, of the travel, at a change of direction"),
        Key("press", "ratio", "0 %", "50 %", "20 %",
            "for how much of its travel it is pressed on at an end, so that it seats"),
        Key("motor_power", "power", "0 W", "50 W", "1.5 W", "what its motor takes while it runs"),
        Key("on_power_loss", CHOICE, choices=("stays", "closes"),
            meaning="what it does without power; there is no default, look at the valve"),
    )),
    Section("turbine", "The impulse turbine: fixed nozzle and wheel.", (
        Key("nozzle_diameter", "length", "0.5 mm", "100 mm", meaning="diameter of the jet"),
        Key("nozzle_coefficient", "ratio", "0.5", "1", "0.97", "velocity coefficient"),
        Key("bucket_angle", "angle", "90 deg", "180 deg", "165 deg", "angle that turns the water"),
        Key("bucket_coefficient", "ratio", "0.1", "1", "0.9", "relative speed left at the edge"),
        Key("hit_frac", "ratio", "0.05", "1", meaning="share of the jet that meets a bucket"),
        Key("wheel_radius", "length", "5 mm", "2 m", meaning="radius that the jet touches"),
        Key("inertia", "moment of inertia", "1e-7 kg m2", "100 kg m2", meaning="wheel and rotor"),
        Key("friction_torque", "torque", "0 mN m", "10 N m", meaning="of bearings and rotor"),
        Key("output_uncertainty", "ratio", "0.1 %", "40 %", "7 %",
            "standard uncertainty of the light that a full tank gives by these figures, till an"
            " evening has taught it; a guess: nozzle 2 %, hit_frac 10 %, friction 20 %, tank 3 %"),
    )),
    Section("generator", "Generator, rectifier and the over-voltage clamp.", (
        Key("emf_constant", "voltage by speed", "0.1 mV s/rad", "10 V s/rad",
            meaning="electromotive force by speed"),
        Key("resistance", "resistance", "0.01 ohm", "60 ohm", meaning="winding resistance"),
        Key("rectifier_drop", "voltage", "0 V", "3 V", "0.7 V", "drop of the rectifier"),
        Key("rated_power", "power", "0.05 W", "1 kW", meaning="rated power"),
        Key("clamp_voltage", "voltage", "1 V", "36 V",
            meaning="the clamp begins to conduct; the monitor stands and reads 36 V"),
        Key("clamp_resistance", "resistance", "0.01 ohm", "1 kohm", meaning="rise beyond it"),
        Key("clamp_power", "power", "0.05 W", "2 kW", meaning="what it stands for ever"),
        Key("trip_voltage", "voltage", "1 V", "38 V", meaning="59-GEN: the valve closes"),
        Key("reset_voltage", "voltage", "0.5 V", "37 V", meaning="59-GEN lets go; below its trip"),
        Key("dump_resistance", "resistance", "0.1 ohm", "10 kohm",
            Derived("clamp_voltage squared / clamp_power",
                    lambda values: values["generator.clamp_voltage_V"] ** 2
                    / values["generator.clamp_power_W"]),
            "dump load that the board switches across the generator"),
    )),
    Section("lamps", "The lamps.", (
        Key("threshold_voltage", "voltage", "0 V", "38 V", meaning="below it they draw nothing"),
        Key("resistance", "resistance", "0.1 ohm", "10 kohm", meaning="rise beyond it"),
        Key("steps", "power", "20 mW", "1 kW", meaning="brightness steps, rising", counts=(1, 8)),
    )),
    Section("supply", "The board's buffer battery.", (
        Key("voltage", "voltage", "3 V", "30 V", meaning="rated voltage"),
        Key("chemistry", CHOICE, choices=CHEMISTRIES, default=OPTIONAL,
            meaning="kind of battery: how high it is charged, whether in frost; absent = by its"
            " voltage, cells of 3.2 V, else of 2 V, 3.6 V or 1.2 V"),
        Key("capacity", "charge", "0.1 Ah", "500 Ah", meaning="capacity"),
        Key("start_charge_frac", "ratio", "0", "1", "0.9", "charge when a rehearsal begins"),
        Key("charge_current", "current", "1 mA", "20 A", meaning="largest charge current"),
        Key("resistance", "resistance", "0.1 mohm", "10 ohm", meaning="inner resistance"),
        Key("board_load", "power", "1 mW", "20 W", meaning="what the board itself uses"),
        Key("low_voltage", "voltage", "1 V", "39 V",
            Derived("0.92 of voltage", lambda values: 0.92 * values["supply.voltage_V"]),
            "27-SUP: everything off"),
        Key("good_voltage", "voltage", "1.1 V", "39 V",
            Derived("0.96 of voltage", lambda values: 0.96 * values["supply.voltage_V"]),
            "27-SUP lets go"),
    )),
)

SCHEMA: tuple[Section, ...] = (*_WATER, *_MACHINES, SENSORS, MODEL, *RULES, LINK, BOARD)
SECTIONS = {section.name: section for section in SCHEMA}
# "section.key" by the name of its value, "section.key_unit".
NAME_OF = {f"{section.name}.{key.attribute}": f"{section.name}.{key.name}"
           for section in SCHEMA for key in section.keys}
# And the other way round.
PLACE_OF = {name: place for place, name in NAME_OF.items()}
KEYS = {f"{section.name}.{key.name}": key for section in SCHEMA for key in section.keys}
