"""Recipes for site, tanks and pipes. Every uncertainty here is a guess of ours."""

from forebay.rig.recipes.rows import AMOUNT, SURFACE, Row, Stated, part, plus, with_any

_HALF, _ROOT_HALF = 0.5, 0.5 ** 0.5  # an area goes with a diameter squared, with two sides
_BUCKET = "Hold a bucket of known size under it and time the filling with a watch."
_FLOAT = ("Fill slowly by a bucket of known size, count the buckets, and stop where the float"
          " moves.")

SITE = {
    "latitude": Row("Read it off a map or a phone standing there.", plus(5.0), plus(0.01)),
    "longitude": Row("Read it off a map or a phone standing there.", plus(10.0), plus(0.01)),
    "height": Row("Read it off a map with contour lines.", plus(300.0), plus(10.0)),
    "water_temperature": Row(
        "Hang a thermometer in the lower tank for ten minutes, and read it under water.",
        plus(5.0), plus(1.0)),
    "coldest_cell": Row(
        "Look up the coldest night on record nearby; a cell under a clear sky is up to 5 K"
        " colder.", plus(8.0), plus(4.0)),
    "hottest_air": Row("Look up the hottest day on record nearby.", plus(5.0), plus(2.0)),
}

_TANK = {
    "shape": Row("Look into the tank: straight walls and a flat floor, or a table of levels."),
    "length": Row("Hold a tape inside the tank at half height, wall to wall.",
                  part(0.10), part(0.01)),
    "width": Row("Hold a tape inside the tank at half height, wall to wall.",
                 part(0.10), part(0.01)),
    "diameter": Row("Lay a tape round the outside, divide by 3.14, take off two walls.",
                    part(0.06), part(0.01)),
    "levels": Row("Stand a rule in the tank and read it after each bucket.",
                  part(0.05), plus(0.005)),
    "volumes": Row("Fill by a bucket of known size and note the sum beside each level.",
                   part(0.10), part(0.02)),
    "height": Row("Stand a rule in the tank, from the floor to the rim.",
                  part(0.10), plus(0.005), follows=True),
}
UPPER = {
    **_TANK,
    "length": _TANK["length"]._replace(measured=Stated("tank_frac", _ROOT_HALF)),
    "width": _TANK["width"]._replace(measured=Stated("tank_frac", _ROOT_HALF)),
    "diameter": _TANK["diameter"]._replace(measured=Stated("tank_frac", _HALF)),
    "volumes": _TANK["volumes"]._replace(measured=Stated("tank_frac")),
    "base_height": Row(
        "Step down from the outlet to the nozzle with a clear hose of water and a rule, and add up"
        " the steps; or read a gauge at the shut valve, 10.2 m a bar, less the water's depth.",
        part(0.10), Stated("head", way=AMOUNT)),
    "inlet_height": Row(
        "Measure with a tape from the tank's outlet up to the end of the rising main, and add"
        " base_height.", part(0.10), plus(0.05)),
    "empty_volume": Row(f"{_FLOAT} Of the low float, from an empty tank.",
                        part(0.5), Stated("float_place", way=SURFACE)),
    "full_volume": Row(f"{_FLOAT} Of LSH-UP.", part(0.10), Stated("float_place", way=SURFACE)),
    "over_full_volume": Row(f"{_FLOAT} Of LSHH-UP.", part(0.10),
                            Stated("float_place", way=SURFACE)),
    "overflow_volume": Row(
        "Measure with a rule from the floor to the overflow's lower edge, times the plan area.",
        part(0.10), Stated("float_place", way=SURFACE)),
    "float_hysteresis": Row(
        "Fill past the float, let down slowly, and read on a rule how far the water falls until"
        " it moves back.", part(0.5), Stated("float_hysteresis_frac"),
        with_any("full_float", "over_full_float", "empty_float")),
}
LOWER = {
    **_TANK,
    "base_height": Row(
        "Hold a clear hose of water from the nozzle to the tank, and measure with a tape from its"
        " water down to the floor.", part(0.20), plus(0.05)),
    "low_volume": Row(f"{_FLOAT} Of LSL-LO, from an empty tank.", part(0.5), part(0.10)),
    "full_volume": Row(f"{_FLOAT} Of LSH-LO.", part(0.10), part(0.03),
                       with_any("lower_full_float")),
    "float_hysteresis": Row(
        "Fill past the float, let down slowly, and read on a rule how far the water falls until"
        " it moves back.", part(0.5), part(0.25),
        with_any("lower_empty_float", "lower_full_float")),
    "inflow": Row(f"{_BUCKET} In a dry week, and after rain.", plus(5e-6), plus(5e-7)),
}

_PIPE = {
    "length": Row("Lay a tape along the pipe, or count its rolls and what was cut off.",
                  part(0.20), part(0.02)),
    "diameter": Row("Hold a caliper across the inside of an end that was cut off; a size in"
                    " print is mostly that of the outside.", part(0.10), part(0.02)),
    "roughness": Row("Look it up by the material: smooth plastic 0.0015 mm, steel 0.05 mm.",
                     part(1.0), part(0.5)),
    "minor_loss": Row(
        "Count the fittings and add up a handbook's coefficients: bend 0.5 to 1, sharp entrance"
        " 0.5, free exit 1.", part(0.6), part(0.3)),
}
RISING_MAIN = _PIPE
PENSTOCK = {
    **_PIPE,
    "pressure_rating": Row("Read it off pipe, joints and valves (PN 6 = 6 bar); the least counts.",
                           part(0.4), part(0.05)),
}
SUPPORT = {
    "tank_mass": Row("Weigh it empty on two bathroom scales under a plank, or by its data sheet;"
                     " add frame and fittings.", part(0.3), part(0.05)),
    "bearers": Row("Count them under the deck."),
    "footprint_length": Row("Measure from outer edge to outer edge of the feet.", part(0.1),
                            plus(0.01)),
    "footprint_width": Row("Measure across, likewise: the less of the two is what overturns.",
                           part(0.1), plus(0.01)),
    "contact_area": Row("Add up the soles of all feet that touch.", part(0.3), part(0.05)),
    "stand_height": Row("Measure from the ground, or the roof, to the tank's floor.", part(0.1),
                        plus(0.01)),
}
_SECTION = "Read it on the jacket, or count the strands and measure one with a caliper."
CABLES = {
    "panel_length": Row("Pace out, or measure, the way that the lead takes.", part(0.2),
                        part(0.02)),
    "panel_section": Row(_SECTION, part(0.2), part(0.05)),
    "lamp_length": Row("Along its way, to the last lamp, one way.", part(0.2), part(0.02)),
    "lamp_section": Row(_SECTION, part(0.2), part(0.05)),
}
