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
# A loose contact is open for up to 2 s, 62 s at most after it was; two thirds of its
# openings outlast 0.7 s of debouncing and delay: of six all but one in a thousand times one.
LOOSE_S = 372.0
# A monitor that is read in turn and lost for 0.7 s each 90 s: two losses, as the first may
# fall between its turns, and a reading.
DROPS_S = 92.0

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
    ("pump-lead-open", "the pump's lead opens", PUMP_MODE, "37-LED", 7.0,
     "no current at all: it trips, and names lead, thermostat and the float's relay"),
    ("pump-switch-welded", "the pump's switch does not open", STANDSTILL_MODE, "3-SW", 3.5,
     "locked out; the pump runs to the over-full float unless the isolator is opened"),
    ("meter-up-stopped", "the meter of the rising main stands still", PUMP_MODE, "80-PMP", 13.0,
     "cannot be told from a pump without flow: it trips"),
    ("meter-up-slow", "it counts 40 % of the water", PUMP_MODE, "3-VOL", 1500.0,
     "level and metered volumes disagree: noted; in weaker sun 80-LOW trips"),
    ("panel-lead-open", "the panel's lead opens", PUMP_MODE, "", 0.0,
     "reads as night: the pump stops, light comes, the battery is not charged"),
    ("charger-dead", "the buffer battery is not charged", ANY_MODE, "27-SUP", 1800.0,
     "everything off before the board browns out; it starts again with a charged battery"),
    ("strainer-half-clogged", "a third of the flow comes through the strainer", PUMP_MODE,
     "80-LOW", 18.0, "too little flow for the power: it trips, and is no weak sun"),
    ("meter-up-noise", "five false pulses a second on the meter of the rising main", PUMP_MODE,
     "", 0.0, "nothing, and no element is blind for it: volumes read too much"),
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
    ("valve-reads-high", "its position reads 3 % of the travel too much", STANDSTILL_MODE, "",
     0.0, "nothing: learnt as its zero when it is next pressed shut, and told"),
    ("valve-reads-far", "its position reads 9 % of the travel too much", STANDSTILL_MODE, "48-VLV",
     8.0, "beyond what may be learnt: it trips; a running pump is stopped at once"),
    ("valve-wiper-stuck", "its position reads the same for ever", TURBINE_MODE, "", 0.0,
     "the light goes on by its power; 48-VLV once it should be elsewhere"),
    ("hand-valve-shut", "the hand valve before the turbine is shut", TURBINE_MODE, "80-VLV", 15.0,
     "the valve is open and no water comes: it trips"),
    ("meter-down-stopped", "the meter of the penstock stands still", TURBINE_MODE, "80-VLV", 13.0,
     "cannot be told from a blocked penstock: it trips"),
    ("meter-down-noise", "five false pulses a second on the meter of the penstock",
     STANDSTILL_MODE, "80-SHT", 33.0, "noted: pump and light go on, volumes read too much"),
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
    ("motor-sensor-stuck", "it reads the warmth of a working motor for ever", PUMP_MODE, "3-STK",
     1805.0, "noted after half an hour of pumping; model and thermostat go on watching"),
    ("motor-sensor-loose", "it hangs in the water, off the motor", PUMP_MODE, "3-THM", 960.0,
     "it does not warm as a working motor does: the pump trips, its limit would go unseen"),
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
     TURBINE_MODE, "12-GEN", 1.5, "locked out as if the turbine ran away"),
    ("lamp-monitor-lost", "the lamps' monitor does not answer", ANY_MODE, "3-LMP", READING_S,
     "no light"),
    ("lamp-current-zero", "the lamps' shunt is bridged: no current is read", TURBINE_MODE,
     "37-LMP", 12.0, "noted; too bright, and trips at the generator's rating"),
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
    ("thermometers-swapped", "motor and coldest pipe are read the wrong way round", PUMP_MODE,
     "3-THM", 960.0, "the motor seems colder than its water: the pump trips"),
    ("lamp-current-low", "the lamps' monitor reads 16 %", TURBINE_MODE, "3-AMP", 12.0,
     "noted; when the generator passes its rating, the light trips"),
)
_LOOSE = (
    ("upper-float-loose", "the loop of LSH-UP opens at random, for up to 2 s", PUMP_MODE,
     "71H-UP", LOOSE_S, "as a cut wire for a moment: the pump pauses"),
    ("over-full-loose", "the loop of LSHH-UP opens at random, for up to 2 s", ANY_MODE,
     "71HH-UP", LOOSE_S, "it trips the pump, at last for good: look at the cable"),
    ("low-float-loose", "the loop of LSL-UP opens at random, for up to 2 s", TURBINE_MODE,
     "71L-UP", LOOSE_S, "as an empty tank for a moment: the light goes out, and comes again"),
    ("lower-float-loose", "the loop of LSL-LO opens at random, for up to 2 s", PUMP_MODE,
     "71L-LO", LOOSE_S, "as an empty tank for a moment: the pump pauses"),
    ("lower-full-loose", "the loop of LSH-LO opens at random, for up to 2 s", TURBINE_MODE,
     "71H-LO", LOOSE_S, "as a full tank for a moment: the light goes out, and comes again"),
    ("stop-loose", "the loop of the local stop opens at random, for up to 2 s", ANY_MODE,
     "5-STP", LOOSE_S, "as if somebody pressed it for a moment"),
    ("panel-monitor-drops", "the panel's monitor does not answer for 0.7 s of each 90 s",
     ANY_MODE, "3-PAN", DROPS_S, "the pump pauses each time"),
    ("pump-monitor-drops", "the pump's monitor does not answer for 0.7 s of each 90 s",
     ANY_MODE, "3-PMP", READING_S, "the pump pauses each time"),
    ("generator-monitor-drops", "the generator's monitor does not answer for 0.7 s of each 90 s",
     ANY_MODE, "3-GEN", READING_S, "the light goes out each time, and comes again"),
    ("lamp-monitor-drops", "the lamps' monitor does not answer for 0.7 s of each 90 s",
     ANY_MODE, "3-LMP", DROPS_S, "the light goes out each time, and comes again"),
    ("supply-monitor-drops", "the supply's monitor does not answer for 0.7 s of each 90 s",
     ANY_MODE, "3-SUP", DROPS_S, "noted; the rest goes on"),
    ("motor-sensor-garbled", "a reading in five of the motor's sensor is damaged", PUMP_MODE,
     "", 0.0, "nothing: the readings between are near enough"),
    ("water-sensor-garbled", "a reading in five of the coldest pipe's sensor is damaged",
     STANDSTILL_MODE, "", 0.0, "nothing: the readings between are near enough"),
)
_STUCK = (
    ("panel-voltage-stuck", "the panel's voltage reads the same for ever", PUMP_MODE, "", 0.0,
     "nothing in a steady sun; in a weaker one the pump trips, and dusk and dawn go unseen"),
    ("panel-current-stuck", "the panel's current reads the same for ever", PUMP_MODE, "", 0.0,
     "nothing: only the balance misses it"),
    ("pump-current-stuck", "the pump's current reads the same for ever", PUMP_MODE, "3-SW", 3.5,
     "when the pump is off current seems to flow: locked out as for a welded switch"),
    ("generator-voltage-stuck", "the generator's voltage reads the same for ever",
     STANDSTILL_MODE, "37-GEN", 40.0, "stuck at nought no light seems to come: it trips"),
    ("generator-current-stuck", "the generator's current reads the same for ever",
     TURBINE_MODE, "", 0.0, "nothing in a steady light; in another the lamps' meter disagrees:"
     " noted"),
    ("lamp-current-stuck", "the lamps' current reads the same for ever", STANDSTILL_MODE,
     "37-LMP", 40.0, "noted when light comes and it reads nought; the light is too bright"),
    ("supply-voltage-stuck", "the supply's voltage reads the same for ever", ANY_MODE, "", 0.0,
     "nothing until the battery is flat: then the board goes out without a word"),
    ("supply-current-stuck", "the supply's current reads the same for ever", ANY_MODE, "", 0.0,
     "nothing: only the balance misses it"),
    ("water-sensor-stuck", "the coldest pipe reads the same for ever", STANDSTILL_MODE, "", 0.0,
     "nothing: frost would go unseen"),
    ("meter-down-slow", "the meter of the penstock counts 40 % of the water", TURBINE_MODE,
     "80-VLV", 15.0, "so small a flow counts as none: it trips, as if the penstock were blocked"),
)
_EVENTS = (
    ("cloud-edge", "1000, 150, 1000 W/m2, each edge in 2 s", PUMP_MODE, "", 0.0,
     "nothing trips; the pump may pause"),
    ("power-cut", "the board's supply is off for 10 min", ANY_MODE, "", 0.0,
     "a new boot, a whole journal; the valve stays where it was, as the rig states"),
)
FAULTS = _WATER + _PUMP + _LIGHT + _READINGS + _EVENTS + _LOOSE + _STUCK
F_NAME, F_WHAT, F_MODE, F_FIRST, F_WITHIN_S, F_SEEN = range(6)
NAMES = tuple([row[F_NAME] for row in FAULTS])


def row_of(name):
    """Return the row of a fault; ValueError if the catalogue has none of that name."""
    for row in FAULTS:
        if row[F_NAME] == name:
            return row
    raise ValueError("no fault " + name)
