"""How well a rig's description is known, for figures that follow from it and from no meter.

The balance adds these to a figure that a model gives; a rig whose meters read everything
needs none of them.  Each is a standard uncertainty: two of them are what its builder would
call plus or minus.
"""

from forebay.rig.keys import Key, Section

MODEL = Section("model", "How well the description is known, where a figure of the balance follows"
                " from it instead of a meter: standard uncertainties.", (
    Key("tank_frac", "ratio", "0.1 %", "50 %", "2 %",
        "plan area of the upper tank; by a tape round it, walls bulge, a guess"),
    Key("float_place", "length", "1 mm", "1 m", "8 mm",
        "level at which a float of the upper tank moves; by a rule at a filling, a guess"),
    Key("float_hysteresis_frac", "ratio", "1 %", "100 %", "25 %",
        "how far the water must move back before it moves again; from a data sheet, a guess"),
    Key("head", "length", "1 mm", "10 m", "50 mm",
        "height of the upper tank above the nozzle; by a hose level, a guess"),
    Key("nozzle_frac", "ratio", "0.1 %", "20 %", "2 %",
        "diameter of the nozzle; a drilled hole is as near as its drill, a guess"),
    Key("hit_frac", "ratio", "1 %", "50 %", "10 %",
        "of turbine.hit_frac, and with it of what the buckets turn; nobody measures it, a guess"),
    Key("radius_frac", "ratio", "0.1 %", "20 %", "2 %",
        "radius that the jet touches; a jet is as thick as a tenth of it, a guess"),
    Key("friction_frac", "ratio", "1 %", "100 %", "25 %",
        "torque of bearings and rotor; it changes with grease and cold, a guess"),
    Key("emf_frac", "ratio", "0.1 %", "20 %", "3 %",
        "electromotive force by speed; by a drill of known speed and a hand meter, a guess"),
    Key("winding_frac", "ratio", "0.1 %", "50 %", "5 %",
        "resistance of the generator; a hand meter's leads, and 4 % for 10 K of copper"),
    Key("rectifier_frac", "ratio", "1 %", "50 %", "10 %",
        "drop of the rectifier; it changes with current and warmth, a guess"),
    Key("clamp_frac", "ratio", "0.1 %", "20 %", "5 %",
        "voltage at which the clamp begins; the usual tolerance of a Zener diode, +-5 %, is"
        " less than two of it"),
    Key("board_load_frac", "ratio", "1 %", "50 %", "11.5 %",
        "what the board uses; +-20 %, each as likely (GUM 4.3.7), a guess"),
))

# The figure of the description that each uncertainty is a share of, for those that make
# the way from the jet to the lamps.
SCALED = {
    "model.nozzle_frac": "turbine.nozzle_diameter_m",
    "model.hit_frac": "turbine.hit_frac",
    "model.radius_frac": "turbine.wheel_radius_m",
    "model.friction_frac": "turbine.friction_torque_N_m",
    "model.emf_frac": "generator.emf_constant_V_s_rad",
    "model.winding_frac": "generator.resistance_ohm",
    "model.rectifier_frac": "generator.rectifier_drop_V",
    "model.clamp_frac": "generator.clamp_voltage_V",
}
