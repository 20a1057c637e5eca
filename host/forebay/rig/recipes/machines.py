"""Recipes for panel, pump, valve, turbine, generator, lamps and battery.

Every uncertainty here is a guess of ours, but for those that [model] states.
"""

from forebay.rig.recipes.rows import Row, Stated, part, plus, with_any

_PLATE = "Read it off the panel's back, "
_PUMP_PLATE = "Read it off the pump's nameplate or sheet"
_METER = "with a hand meter"

PANEL = {
    "power": Row(f"{_PLATE}at standard test conditions.", part(0.15), part(0.03)),
    "cells": Row("Count the cells from one end of the string to the other."),
    "open_circuit_voltage": Row(
        f"{_PLATE}or measure volts at its open leads in full sun {_METER}; warm cells read up to a"
        " tenth less.", part(0.06), part(0.02)),
    "short_circuit_current": Row(
        f"{_PLATE}or measure amperes with its leads through the meter alone, in full sun square"
        " on to it.", part(0.12), part(0.04)),
    "best_voltage": Row(f"{_PLATE}the voltage at most power.", part(0.06), part(0.02)),
    "best_current": Row(f"{_PLATE}the current at most power.", part(0.12), part(0.03)),
    "voltage_temperature": Row("Look it up in the panel's sheet; silicon has -0.27 to -0.35 %/K.",
                               part(0.15), part(0.05)),
    "current_temperature": Row("Look it up in the panel's sheet; silicon has 0.03 to 0.07 %/K.",
                               part(0.5), part(0.2)),
    "tilt": Row("Lay a phone's level or a protractor with a plumb line on the glass.",
                plus(10.0), plus(1.0)),
    "azimuth": Row("Look square off the panel with a compass, away from iron, and correct it to"
                   " true north.", plus(20.0), plus(5.0)),
}
PUMP = {
    "rated_voltage": Row(f"{_PUMP_PLATE}.", part(0.10), part(0.02)),
    "rated_power": Row(
        f"Run it at its rated voltage and multiply by the amperes that you read {_METER}.",
        part(0.25), part(0.03)),
    "rated_speed": Row(
        f"{_PUMP_PLATE}, or hold a phone to the motor and divide the tone's hertz by its poles.",
        part(0.3), part(0.05)),
    "shut_off_head": Row(
        "At rated voltage, raise the end of a hose until no water comes; measure with a tape from"
        " it down to the water.", part(0.25), part(0.03)),
    "rated_head": Row(
        "At rated voltage, hold the hose where it gives rated_flow; measure with a tape from its"
        " end down to the water.", part(0.25), part(0.03)),
    "rated_flow": Row(
        "At rated voltage and rated_head, fill a bucket of known size and time it with a watch.",
        part(0.30), part(0.03)),
    "shut_off_torque_frac": Row(
        "At rated voltage shut the hose for ten seconds; divide the amperes then by those at the"
        " rated point, no_load_current taken off both.", part(0.3), part(0.08)),
}
MOTOR = {
    "resistance": Row(
        f"Measure ohms at the pump's leads {_METER}, shaft held; take off what its own leads"
        " read.", part(0.4), part(0.05)),
    "no_load_current": Row(
        f"Run it for five seconds out of the water and read the amperes {_METER}.",
        part(0.5), part(0.10)),
    "cooled_resistance": Row(
        "Pump for an hour in steady sun; divide the kelvins of motor over water by resistance x"
        " amperes squared.", part(0.5), part(0.15)),
    "still_resistance": Row(
        "After pumping, note the motor's temperature each five minutes; the time to lose 63 % of"
        " its excess, over heat_capacity.", part(0.5), part(0.15)),
    "heat_capacity": Row("Weigh the motor: 450 J/K a kilogram, half steel and half copper.",
                         part(0.5), part(0.2)),
    "sensor_lag": Row(
        "Move the sensor from warm water to cold, and time it until 63 % of the step are made.",
        part(0.5), part(0.15), with_any("motor_temperature")),
}
VALVE = {
    "flow_coefficient": Row(
        "Read Kvs off its sheet; or open it under a known head without the nozzle, and time a"
        " bucket: Q in m3/h over the root of bar.", part(0.4), part(0.08)),
    "characteristic": Row(
        "Time a bucket at half travel: about half the full flow is linear, a sixth is equal"
        " percentage."),
    "rangeability": Row("Read it off its sheet; or time a bucket just open and wide open.",
                        part(0.5), part(0.2)),
    "travel": Row("Time it with a watch from shut to wide open, three times, at the supply's"
                  " voltage.", part(0.4), part(0.03)),
    "shut_reading": Row("Drive it shut ten times, and take the largest reading.",
                        part(0.6), part(0.2), with_any("valve_position")),
    "least_pulse": Row("Give it shorter and shorter pulses, and take the shortest at which its"
                       " shaft surely turns.", part(0.5), part(0.2)),
    "coast": Row("Film the shaft, and count the pictures that it turns on after its motor is"
                 " cut; a third of that time.", part(0.8), part(0.3)),
    "backlash": Row("Turn the motor one way, then the other, and see on the shaft how much of the"
                    " travel is lost.", part(0.8), part(0.3)),
    "motor_power": Row(f"Multiply volts and amperes at its motor {_METER}, while it runs.",
                       part(0.5), part(0.1)),
    "on_power_loss": Row("Pull its plug half open, and look: it stays, or it closes."),
}
TURBINE = {
    "nozzle_diameter": Row("Push drill shanks through the nozzle: the largest that goes.",
                           part(0.08), Stated("nozzle_frac")),
    "nozzle_coefficient": Row(
        "Time a bucket under the nozzle alone at a known head; the flow over bore area x"
        " root(2 g h). A drilled, rounded hole has 0.95 to 0.98.", part(0.03), part(0.015)),
    "bucket_angle": Row("Lay a protractor on a bucket, from where water enters to where it"
                        " leaves.", part(0.06), part(0.03)),
    "bucket_coefficient": Row("Nobody measures it alone: set hit_frac by an evening's light, and"
                              " keep 0.9.", part(0.10), part(0.07)),
    "hit_frac": Row(
        "Set it so that the light that a rehearsal gives at a full tank is what the lamps' meter"
        " reads.", part(0.25), Stated("hit_frac")),
    "wheel_radius": Row("Measure with a rule from the shaft's middle to where the jet touches.",
                        part(0.15), Stated("radius_frac")),
    "inertia": Row("Weigh the wheel with its rotor; half of mass x radius squared for a disc, all"
                   " of it for a rim.", part(0.6), part(0.2)),
    "friction_torque": Row(
        "Let the wheel run out without water: inertia x the fall of speed over the time that it"
        " took.", part(0.6), Stated("friction_frac")),
}
GENERATOR = {
    "emf_constant": Row(
        "Spin it with a drill of known speed, read the rectified volts without load, add the"
        " rectifier's drop; volts over rad/s (rpm / 9.55).", part(0.25), Stated("emf_frac")),
    "resistance": Row(f"Measure ohms at its leads {_METER}; take off what the meter's own leads"
                      " read.", part(0.4), Stated("winding_frac")),
    "rectifier_drop": Row(
        "Look it up by its kind: two silicon diodes 1.4 V, two Schottky diodes 0.6 V, one of each"
        f" half; or read it {_METER} across it, in the light.",
        part(0.4), Stated("rectifier_frac")),
    "rated_power": Row("Read it off its nameplate, or take what it gives for an hour with its case"
                       " no hotter than a hand can bear.", part(0.3), part(0.1)),
    "clamp_voltage": Row("Read it off the diode, or raise a bench supply on the clamp until"
                         " 10 mA flow.", part(0.12), Stated("clamp_frac")),
    "clamp_resistance": Row(
        "With a bench supply, read the volts at a tenth and at half of its current; their"
        " difference over that of the amperes.", part(0.6), part(0.15)),
    "clamp_power": Row("Look it up in the sheet of its diodes, on the heat sink that they have.",
                       part(0.4), part(0.15)),
    "dump_resistance": Row(f"Measure its ohms {_METER}, taken off its leads.",
                           part(0.2), part(0.02)),
}
LAMPS = {
    "threshold_voltage": Row(
        "Raise a bench supply on the lamps until they just glow, and read its volts.",
        part(0.10), part(0.02)),
    "resistance": Row(
        "With a bench supply, read volts and amperes dim and bright; the difference of the volts"
        " over that of the amperes.", part(0.4), part(0.05)),
}
SUPPLY = {
    "voltage": Row("Read it off the battery.", part(0.10), part(0.02)),
    "capacity": Row("Read it off the battery, and take a fifth off for each five years.",
                    part(0.3), part(0.15)),
    "charge_current": Row(f"Read the amperes into the battery {_METER}, half empty, at noon.",
                          part(0.5), part(0.05)),
    "resistance": Row(
        f"Read its volts {_METER} with a known load off and on; their difference over the"
        " amperes.", part(0.6), part(0.1)),
    "board_load": Row(f"Multiply volts and amperes into the board {_METER}, at rest.",
                      part(0.4), Stated("board_load_frac")),
}
