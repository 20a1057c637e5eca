"""The catalogue of faults: what sticks, in which mode, which element must act, how soon.

A fault is a name in this table; `forebay.twin.effects.apply` brings it on: it
changes the plant, the leads or an instrument, never the keeper.  What it
changes stays so until the run ends.
"""

from keeper.modes import PUMP_MODE, STANDSTILL_MODE, TURBINE_MODE

ANY_MODE = -1
CUT_S = 600.0                      # how long the board's supply stays off
# A loop or reading acts within its delay, the scan that ends it and, for what is
# read once a second, that second.
LOOP_S, READING_S, SLOW_S = 0.5, 0.8, 2.0

# name, what sticks, mode it needs, first element ("" = none), at most [s] after
# the condition (plus one flash stall), what a person sees
_WATER = (
    ("upper-float-stuck", "LSH-UP never lifts", PUMP_MODE, "71H-LVL", 300.0,
     "the level stops the pump; behind it the second float, in hardware too"),
    ("upper-float-cut", "the loop of LSH-UP opens", PUMP_MODE, "71H-UP", LOOP_S,
     "a cut wire reads as a full tank and stops the pump"),
    ("upper-float-chatters", "the loop of LSH-UP opens 2 s of every 45 s", PUMP_MODE, "71H-UP",
     45.0, "the pump starts and stops until 66-PMP keeps it off for a while"),
    ("over-full-cut", "the plain loop of LSHH-UP opens", ANY_MODE, "71HH-UP", LOOP_S,
     "a cut wire reads as an over-full tank and trips the pump"),
    ("over-full-loop-shorted", "the supervised loop of LSHH-UP is crushed", ANY_MODE, "3-HHU",
     LOOP_S, "the pump stays off until the cable is whole"),
    ("over-full-loop-cut", "the supervised loop of LSHH-UP is cut", ANY_MODE, "3-HHU", LOOP_S,
     "the pump stays off until the cable is whole"),
    ("low-float-stuck", "LSL-UP stays wet", TURBINE_MODE, "71L-LVL", 3600.0,
     "the level ends the light a little below the float"),
    ("low-float-cut", "the loop of LSL-UP opens", ANY_MODE, "71L-UP", 0.7,
     "a cut wire reads as an empty tank and ends the light"),
    ("lower-tank-dry", "inflow and water of the lower tank are gone", PUMP_MODE, "71L-LO", 0.7,
     "the low float stops the pump before it runs dry"),
    ("lower-float-stuck", "LSL-LO stays wet, and the lower tank runs out", PUMP_MODE, "37-PMP",
     8.0, "the pump draws too little and trips within its delay"),
    ("lower-float-cut", "the loop of LSL-LO opens", ANY_MODE, "71L-LO", 0.7,
     "a cut wire reads as an empty tank and stops the pump"),
    ("lower-tank-floods", "1 L/s runs into the lower tank", ANY_MODE, "71H-LO", 0.7,
     "no light while the water has nowhere to go"),
    ("lower-full-cut", "the loop of LSH-LO opens", ANY_MODE, "71H-LO", 0.7,
     "a cut wire reads as a full tank and ends the light"),
    ("tank-leaks", "20 mL/s leave the upper tank", STANDSTILL_MODE, "71D-UP", 1800.0,
     "an alarm; nothing else can be done from here"),
    ("main-siphons", "20 mL/s run back through the rising main", STANDSTILL_MODE, "71D-UP",
     1800.0, "an alarm: the air gap at the tank is gone"),
    ("frost", "the air falls to -12 degC", STANDSTILL_MODE, "23-CLD", 300.0,
     "an alarm in time to empty the pipes, then no new start"),
)
_PUMP = (
    ("jacket-blocked", "cooling of the motor falls to still air", PUMP_MODE, "26-MOT", 300.0,
     "the motor's sensor stops the pump; its limit is passed by 3 K at most"),
    ("bearing-stiff", "the motor's bearing takes 1.2 A more", PUMP_MODE, "49-MOT", 300.0,
     "the thermal model stops the pump before its sensor or the thermostat does"),
    ("rotor-stalled", "the motor cannot turn", PUMP_MODE, "14-PMP", 7.5,
     "volts per ampere are too low: it trips long before the winding is hot"),
    ("air-in-pump", "the pump loses its water", PUMP_MODE, "37-PMP", 8.0,
     "the pump draws too little and trips"),
    ("strainer-blocked", "no water comes through the strainer", PUMP_MODE, "80-PMP", 13.0,
     "the pump works and no water moves: it trips"),
    ("foot-valve-stuck", "the suction side is shut before the start", STANDSTILL_MODE, "48-PMP",
     20.0, "no water in time after the start: it trips"),
    ("pump-lead-open", "the pump's lead opens", PUMP_MODE, "37-PMP", 7.0,
     "no current: it trips, and names the lead beside dry running"),
    ("pump-switch-welded", "the pump's switch does not open", STANDSTILL_MODE, "3-SW", 3.5,
     "locked out; the pump runs to the over-full float unless the isolator is opened"),
    ("meter-up-stopped", "the meter of the rising main stands still", PUMP_MODE, "80-PMP", 13.0,
     "cannot be told from a pump without flow: it trips"),
    ("meter-up-slow", "it counts 40 % of the water", PUMP_MODE, "3-VOL", 1500.0,
     "level and metered volumes disagree: noted"),
    ("panel-lead-open", "the panel's lead opens", PUMP_MODE, "", 0.0,
     "reads as night: the pump stops, light comes, the battery is not charged"),
    ("charger-dead", "the buffer battery is not charged", ANY_MODE, "27-SUP", 1800.0,
     "everything off before the board browns out; it starts again with a charged battery"),
)
_LIGHT = (
    ("load-lost", "the lamps' lead opens", TURBINE_MODE, "59-GEN", 0.3,
     "the clamp holds the voltage, the keeper records it and shuts the valve"),
    ("generator-lead-open", "the generator's winding opens", TURBINE_MODE, "37-GEN", 15.0,
     "water goes down and no volts come: the valve shuts, and the lead is named"),
    ("clamp-lost", "the clamp no longer conducts", ANY_MODE, "", 0.0,
     "nothing until the lamps are lost too: try it in each proof test"),
    ("valve-stuck", "the valve does not move", TURBINE_MODE, "48-VLV", 8.0,
     "it trips; only the hand valve ends the flow"),
    ("valve-slow", "the valve takes twelve times its travel", TURBINE_MODE, "48-VLV", 8.0,
     "it trips and shuts as fast as it can"),
    ("valve-creeps", "the valve opens by itself", STANDSTILL_MODE, "48-VLV", 8.0,
     "it trips; only the hand valve ends the flow"),
    ("valve-drifts", "the valve opens by itself while the pump runs", PUMP_MODE, "33-VLV", 2.0,
     "the pump stops at once; then it trips as above"),
    ("seat-leaks", "20 mL/s pass the shut valve", STANDSTILL_MODE, "48-SHT", 18.0,
     "locked out; only the hand valve ends the flow"),
    ("hand-valve-shut", "the hand valve before the turbine is shut", TURBINE_MODE, "80-VLV", 15.0,
     "the valve is open and no water comes: it trips"),
    ("meter-down-stopped", "the meter of the penstock stands still", TURBINE_MODE, "80-VLV", 13.0,
     "cannot be told from a blocked penstock: it trips"),
)
_READINGS = (
    ("motor-sensor-open", "the motor's sensor is open", ANY_MODE, "3-MOT", SLOW_S,
     "the pump stays off"),
    ("motor-sensor-short", "the motor's sensor is short", ANY_MODE, "3-MOT", SLOW_S,
     "the pump stays off"),
    ("motor-sensor-reset", "it reads 85 degC, its value after power-on", ANY_MODE, "3-MOT",
     SLOW_S, "the pump stays off"),
    ("motor-sensor-zero", "all its bytes are zero", ANY_MODE, "3-MOT", SLOW_S,
     "the pump stays off"),
    ("motor-sensor-stale", "it gives no new reading", ANY_MODE, "3-MOT", SLOW_S,
     "the pump stays off"),
    ("motor-sensor-stuck", "it reads the same for ever", PUMP_MODE, "3-STK", 1805.0,
     "noted after half an hour of pumping; model and thermostat go on watching"),
    ("motor-sensor-loose", "it hangs in the water, off the motor", PUMP_MODE, "", 0.0,
     "nothing until the motor is hot: then only model and thermostat act"),
    ("water-sensor-lost", "the sensor of the coldest pipe is silent", ANY_MODE, "3-WTR", SLOW_S,
     "noted: frost would go unseen"),
    ("panel-monitor-lost", "the panel's monitor does not answer", ANY_MODE, "3-PAN", READING_S,
     "the pump stays off"),
    ("panel-current-clipped", "the panel's shunt is too large", ANY_MODE, "3-PNA", READING_S,
     "noted: only the balance misses it"),
    ("pump-current-clipped", "the pump's shunt is too large", ANY_MODE, "3-PMP", READING_S,
     "the pump stays off"),
    ("pump-current-high", "the pump's monitor reads four times too much", PUMP_MODE, "49-MOT",
     900.0, "the thermal model trips the pump, though the motor is cool"),
    ("generator-monitor-lost", "the generator's monitor does not answer", ANY_MODE, "3-GEN",
     READING_S, "no light"),
    ("generator-current-clipped", "the generator's shunt is too large", ANY_MODE, "3-GNA",
     READING_S, "noted; its voltage goes on being watched"),
    ("generator-current-high", "the generator's monitor reads twenty times too much",
     TURBINE_MODE, "12-GEN", 1.5, "locked out as if the wheel ran away"),
    ("lamp-monitor-lost", "the lamps' monitor does not answer", ANY_MODE, "3-LMP", READING_S,
     "no light"),
    ("lamp-current-zero", "the lamps' shunt is bridged: no current is read", TURBINE_MODE,
     "37-LMP", 12.0, "noted; the light is too bright"),
    ("supply-monitor-lost", "the supply's monitor does not answer", ANY_MODE, "3-SUP", READING_S,
     "noted; the rest goes on"),
    ("supply-current-clipped", "the supply's shunt is too large", ANY_MODE, "3-SPA", READING_S,
     "noted"),
    ("level-sensor-open", "the level sensor is open", ANY_MODE, "3-LVL", READING_S,
     "noted; the floats go on watching"),
    ("level-sensor-short", "the level sensor is short", ANY_MODE, "3-LVL", READING_S,
     "noted; the floats go on watching"),
    ("level-stuck", "the level reads the same for ever", PUMP_MODE, "3-VOL", 1200.0,
     "level and metered volumes disagree: noted"),
    ("level-offset", "the level reads 80 mm too much", STANDSTILL_MODE, "3-VOL", 60.0,
     "level and metered volumes disagree: noted"),
    ("valve-sensor-open", "the valve's position is not read", ANY_MODE, "3-VLV", READING_S,
     "nothing runs until a person looks"),
    ("button-stuck", "the button stays closed", ANY_MODE, "3-BTN", 31.0,
     "noted; it is not heard until it lets go"),
    ("stop-pressed", "somebody presses the local stop", ANY_MODE, "5-STP", 0.3,
     "pump off and valve shut, in hardware and in firmware"),
)
_EVENTS = (
    ("cloud-edge", "1000, 150, 1000 W/m2, each edge in 2 s", PUMP_MODE, "", 0.0,
     "nothing trips; the pump may pause"),
    ("power-cut", "the board's supply is off for 10 min", ANY_MODE, "", 0.0,
     "a new boot, a whole journal; the valve stays where it was, as the rig states"),
)
FAULTS = _WATER + _PUMP + _LIGHT + _READINGS + _EVENTS
F_NAME, F_WHAT, F_MODE, F_FIRST, F_WITHIN_S, F_SEEN = range(6)
NAMES = tuple([row[F_NAME] for row in FAULTS])


def row_of(name):
    """Return the row of a fault; ValueError if the catalogue has none of that name."""
    for row in FAULTS:
        if row[F_NAME] == name:
            return row
    raise ValueError("no fault " + name)
