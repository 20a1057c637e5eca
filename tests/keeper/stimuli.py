"""What an instrument shows when an element must act, and when it must not, by element.

Raw readings on the settings of `tests.keeper.scripted`, worked out by hand from
their limits; nothing here knows the rows under test.
"""

from typing import Any

from keeper import channels as ch
from keeper import modes as mo
from keeper import settings as st
from keeper.events import EventQueue
from keeper.protection import derived as dv
from keeper.protection.derived import DERIVED, SETTLE_PERIODS, VALUES, Derived
from keeper.protection.judging import Protection, stands_in
from keeper.protection.standing_in import SOAK_S, StandIns
from tests.keeper import statement as said
from tests.keeper.scripted import HEALTHY, settings_with

STATE = {row[0]: place for place, row in enumerate(mo.STATES)}
# Sides as the wire and the journal have them: bit 0 the pump, bit 1 the turbine.
SIDE = {said.PUMP: 1, said.LIGHT: 2, said.BOTH: 3}
# Names of the values in the order of a scan's list.
VALUE_NAMES = ([row[0] for row in ch.CHANNELS] + list(ch.CONTACTS)
               + ["pulses_up", "pulses_down", "loop_71hh"] + [row[0] for row in DERIVED])
PERIOD_MS = 100
UL_S_PER_PULSE = 10_000  # 1 mL a pulse, ten scans a second
GAP = -1                 # a place: the valve stands so far from where it was told [permille]
TOLD = 500               # where it is told to stand while water goes down [permille]

PUMP_READS = ((ch.PANEL_MV, 30000), (ch.PUMP_MA, 600), (ch.PULSES_UP, 5))
LIGHT_READS = ((ch.PANEL_MV, 0), (ch.GENERATOR_MV, 11000), (ch.GENERATOR_MA, 60),
               (ch.LAMP_MA, 52), (ch.PULSES_DOWN, 3), (GAP, 0))
READS = {"trial": PUMP_READS, "pumping": PUMP_READS, "running": LIGHT_READS,
         "closing": LIGHT_READS, "draining": LIGHT_READS}


class Shown:
    """Readings that an element must, and must not yet, act upon.

    beyond, edge: just past its pickup, and just not; held, inside: what acts
    goes on, and lets go.  changes: settings. before: called with `Derived`
    and one of the four before each scan, for what takes hours to come about.
    """

    def __init__(self, beyond: Any, edge: Any = None, held: Any = None, inside: Any = None,
                 changes=(), before=None):
        self.beyond, self.edge, self.held, self.inside = beyond, edge, held, inside
        self.changes = changes
        self.before = before


def one(place, beyond, edge=None, held=None, inside=None, changes=(), **others):
    """One reading alone."""
    def at(value):
        return None if value is None else ((place, value),)
    return Shown(at(beyond), at(edge), at(held), at(inside), changes, **others)


def loop(place):
    """A contact: 0 is the dangerous side, and so is a cut wire."""
    return one(place, 0, inside=1, edge=1)


def lost(place):
    """A sensor that gives nothing to trust; its own lowest legal value is a reading."""
    return one(place, ch.INVALID, edge=ch.CHANNELS[place][ch.CH_LOW])


def level(beyond, edge, held, inside):
    """A level that has stood for longer than its mean remembers."""
    def before(derived, _):
        derived.mean = ch.INVALID
    return one(ch.LEVEL_MM, beyond, edge, held, inside, before=before)


def kept(beyond, edge, held, inside, put):
    """A number that the keeper itself remembers; put: sets it."""
    shown = [None if number is None else ((None, number),)
             for number in (beyond, edge, held, inside)]
    return Shown(*shown, before=lambda derived, now: put(derived, now[0][1]))


def _heat(derived, heat):
    """The second of the model's next step has just begun."""
    derived.heat.heat = heat
    derived.heat.periods = 0


def _starts(derived, milli):
    """A tenth of a second ago, when 3 thousandths of a start more were left (120 an hour)."""
    derived.starts.waited = 0
    derived.starts.milli = milli + 3


def _still(derived, seconds):
    derived.still_periods = 10 * seconds - 1
    derived.moved_mdegC = dict(HEALTHY)[ch.MOTOR_MDEGC]


def _gap(derived, gap_mm):
    derived.gap_mm = gap_mm


def _fallen(derived, fall_mm):
    derived.rest_periods = SETTLE_PERIODS + 50
    derived.rest_mm = dict(HEALTHY)[ch.LEVEL_MM] + fall_mm


def _home(derived, _):
    derived.is_home = True


def readings_of(fitted):
    """Names of the readings of a rig; fitted: bits, as the setting. What no rig lacks is there."""
    return [name for place, name in enumerate(VALUE_NAMES[:ch.READ])
            if place >= ch.FITTABLE or fitted >> place & 1]


def without(name):
    """The setting that takes away all that an element stands in for; none for the others."""
    fitted = ch.ALL_FITTED
    for group in said.INSTEAD.get(name, ()):
        fitted &= ~(1 << VALUE_NAMES.index(group[-1]))
    return ("fitted", fitted)


def _second(derived):
    """What stands in is worked out once a second: in this scan."""
    derived.spare_periods = 9
    derived.was_on = derived.warmth.was_on = derived.pump_on


def _warmth(derived, now):
    """A minute ago, as this run or rest began, the motor read 20 degC; a second ago as now."""
    _second(derived)
    warmth = derived.warmth
    warmth.start_mdegC = 20000
    warmth.ring = [20000] * len(warmth.ring)
    warmth.ring[warmth.place - 1] = now[0][1]
    warmth.rest_s = SOAK_S


def _filling(derived, seconds):
    """This second counts."""
    _second(derived)
    derived.filling_s = seconds - 1


def _unfilled(derived, minutes):
    _second(derived)
    derived.unfilled_s = 60 * minutes


def _fell(derived, seconds):
    _second(derived)
    derived.fell_early_s = seconds


SURE = (("flow_sure_mW", 10000),)
OPEN_ENOUGH = (("valve_sure_permille", TOLD - 1), ("wheel_turns_permille", TOLD - 1))
NOTHING_UP, NOTHING_DOWN = (ch.PULSES_UP, 0), (ch.PULSES_DOWN, 0)


def drawn(mV, mA):
    """What the pump draws, without flow."""
    return (ch.PANEL_MV, mV), (ch.PUMP_MA, mA), NOTHING_UP


def little(mV, mA):
    """What the pump draws while it lifts 20 mL/s: a flow that is seen, and too little."""
    return (ch.PANEL_MV, mV), (ch.PUMP_MA, mA), (ch.PULSES_UP, 2)


def warm(over_mdegC):
    """The motor reads so much warmer than the water."""
    return (ch.MOTOR_MDEGC, 12000 + over_mdegC), (ch.WATER_MDEGC, 12000)


def _settled(derived, _):
    derived.run_periods = 10 * dv.WARMS_TAUS * derived.tau_s - 1


def lit(mV, mA, lamp_mA):
    """What generator and lamps read."""
    return (ch.GENERATOR_MV, mV), (ch.GENERATOR_MA, mA), (ch.LAMP_MA, lamp_mA)


# 20 V x 500 mA = 10 W. The dry limit there is 180 mA, the stalled motor's voltage 3 V.
A_VOLT = (ch.GENERATOR_MV, 1000)
NO_FLOW_UP = Shown(drawn(20000, 501), drawn(20000, 500), inside=PUMP_READS, changes=SURE)
SHOWN = {
    "71HH-UP": loop(ch.C_71HH_UP),
    "71H-UP": loop(ch.C_71H_UP),
    "71L-LO": loop(ch.C_71L_LO),
    "71L-UP": loop(ch.C_71L_UP),
    "71H-LO": loop(ch.C_71H_LO),
    "5-STP": loop(ch.C_STOP),
    "3-HHU": one(ch.LOOP_71HH, ch.LOOP_SHORTED, ch.LOOP_HEALTHY, inside=ch.LOOP_HEALTHY),
    "3-BTN": one(ch.BUTTON, 1, 0, inside=0),
    "3-SW": one(ch.PUMP_MA, 101, 100, inside=100),
    # Inside the winding of 10 ohm: 13.0 V + 7.01 V; lets go at 13.8 V = 13.0 V + 0.8 V.
    "12-GEN": Shown(*[((ch.GENERATOR_MV, 13000), (ch.GENERATOR_MA, mA))
                      for mA in (701, 700, 81, 80)]),
    "59-GEN": one(ch.GENERATOR_MV, 13801, 13800, 12801, 12800),
    "71H-LVL": level(976, 975, 961, 960),
    "71L-LVL": level(34, 35, 49, 50),
    "26-MOT": one(ch.MOTOR_MDEGC, 55001, 55000, 45001, 45000),
    "27-SUP": one(ch.SUPPLY_MV, 11499, 11500, 11999, 12000),
    "23-WTR": one(ch.WATER_MDEGC, 1499, 1500, 3999, 4000),
    "23-CLD": one(ch.WATER_MDEGC, 3999, 4000, 4999, 5000),
    "33-VLV": one(GAP, 61, 60, 16, 15),
    "48-VLV": one(GAP, 56, 55, inside=55),
    "33-SHT": one(ch.VALVE_PERMILLE, 16, 15, inside=15, before=_home),
    "49-MOT": kept(1001_000, 1000_999, 701_000, 700_999, _heat),
    "66-PMP": kept(119_501, 119_500, 119_001, 119_000, _starts),
    "3-STK": kept(1801, 1800, None, 1800, _still),
    "3-VOL": kept(1001, 1000, None, 1000, _gap),
    "71D-UP": kept(21, 20, None, 20, _fallen),
    # 6 ohm x 2 A = 12 V; 24 V: 100 mA + 24^2 x 0.2 mA = 215 mA.
    "14-PMP": Shown(drawn(11999, 2000), drawn(12000, 2000), inside=PUMP_READS),
    "37-PMP": Shown(drawn(24000, 214), drawn(24000, 215), inside=PUMP_READS),
    "80-PMP": NO_FLOW_UP,
    "48-PMP": NO_FLOW_UP,
    # The wheel turns: a volt bears out what the meter says.
    "48-SHT": Shown(((ch.PULSES_DOWN, 2), A_VOLT), ((ch.PULSES_DOWN, 2), (ch.GENERATOR_MV, 999)),
                    inside=((ch.PULSES_DOWN, 1), A_VOLT)),
    "80-SHT": one(ch.PULSES_DOWN, 2, 1, inside=1),
    "80-VLV": Shown((NOTHING_DOWN, (GAP, 0)), (NOTHING_DOWN, (GAP, -1)), inside=LIGHT_READS,
                    changes=OPEN_ENOUGH),
    "37-GEN": Shown(((ch.GENERATOR_MV, 999), (GAP, 0)), ((ch.GENERATOR_MV, 999), (GAP, -1)),
                    inside=LIGHT_READS, changes=OPEN_ENOUGH),
    "37-LMP": Shown(((ch.GENERATOR_MV, 9901), (ch.LAMP_MA, 4)),
                    ((ch.GENERATOR_MV, 9900), (ch.LAMP_MA, 4)),
                    inside=((ch.GENERATOR_MV, 9901), (ch.LAMP_MA, 5))),
    # 49 mA: an idle motor draws 50 at least. Below 12 V nobody judges.
    "37-LED": Shown(drawn(12000, 49), drawn(11999, 49), inside=drawn(12000, 240)),
    # 20 V x 500 mA = 10 W, and 2 pulses a scan: seen, and less than is useful.
    "80-LOW": Shown(little(20000, 501), little(20000, 500), inside=PUMP_READS,
                    changes=(("useful_sure_mW", 10000),)),
    "3-THM": Shown(warm(1999), warm(2000), inside=warm(2000),
                   changes=(("motor_rise_mdegC", 2000),), before=_settled),
    # 100 mA against 79: 20 are allowed.
    "3-AMP": Shown(lit(11000, 100, 79), lit(11000, 100, 80), inside=lit(11000, 80, 100)),
    # 11 V x 146 mA = 1.606 W, 145 mA: 1.595; the lamps read the same.
    "32-GEN": Shown(lit(11000, 146, 146), lit(11000, 145, 145), inside=lit(11000, 60, 60)),
    "26-PMP": one(ch.MOTOR_MDEGC, 40001, 40000, inside=40000, before=_warmth),
    # 3 K by its losses, and 6 K of water at 26 degC in a minute of 60 s.
    "14-HOT": one(ch.MOTOR_MDEGC, 29001, 29000, inside=29000, before=_warmth),
    # 0.3 K of noise, and a tenth of the 30 K to the hottest air.
    "3-HOT": one(ch.MOTOR_MDEGC, 23301, 23300, inside=23300, before=_warmth),
    "48-FUL": kept(3601, 3600, None, 3600, _filling),
    "48-LOK": Shown(*[((None, minutes), (ch.GENERATOR_MV, 0)) for minutes in (7201, 7200)],
                    inside=((None, 7200), (ch.GENERATOR_MV, 0)),
                    before=lambda derived, now: _unfilled(derived, now[0][1])),
    "71L-LMP": Shown(((ch.GENERATOR_MV, 999), NOTHING_DOWN, (GAP, 0)),
                     ((ch.GENERATOR_MV, 999), NOTHING_DOWN, (GAP, -1)), inside=LIGHT_READS,
                     changes=OPEN_ENOUGH),
    "71D-FLT": kept(1, 0, None, 0, _fell),
    "33-LIT": one(ch.GENERATOR_MV, 1001, 1000, inside=1000),
    "71L-PMP": Shown(drawn(24000, 214), drawn(24000, 215), inside=PUMP_READS),
    "3-MOT": lost(ch.MOTOR_MDEGC),
    "3-PAN": lost(ch.PANEL_MV),
    "3-PMP": lost(ch.PUMP_MA),
    "3-GEN": lost(ch.GENERATOR_MV),
    "3-LMP": lost(ch.LAMP_MA),
    "3-VLV": lost(ch.VALVE_PERMILLE),
    "3-LVL": lost(ch.LEVEL_MM),
    "3-WTR": lost(ch.WATER_MDEGC),
    "3-SUP": lost(ch.SUPPLY_MV),
    "3-PNA": lost(ch.PANEL_MA),
    "3-GNA": lost(ch.GENERATOR_MA),
    "3-SPA": lost(ch.SUPPLY_MA),
}


def off_by(told, gap):
    """Where a valve stands that is off by a gap [permille]; at its end, the other way."""
    return told + gap if told + gap <= 1000 else told - gap


def number_of(limit, settings):
    """A number of a statement, or the setting that it names."""
    return limit if isinstance(limit, int) else settings[st.index(limit)]


def delay_scans(name, settings):
    """The delay of an element [scans]."""
    return number_of(said.BY_ID[name].delay, settings) // PERIOD_MS


class Judged:
    """Derived values and protection on readings, in a state that stays."""

    def __init__(self, state, name, begun=True):
        """name: of the element whose readings are shown, on a rig that has it.

        begun: a first scan has passed, and all was well.
        """
        shown = SHOWN[name]
        self.settings = settings_with((without(name), *shown.changes))
        fitted = number_of("fitted", self.settings)
        self.absent = [place for place in range(ch.FITTABLE) if not fitted >> place & 1]
        self.why = [ch.OUT_OF_RANGE] * ch.COLUMNS
        self.values = [0] * VALUES
        self.events = EventQueue(24, self.values, ch.COLUMNS + len(ch.CONTACTS))
        self.derived = (StandIns if stands_in(fitted) else Derived)(self.settings, self.why)
        self.protection = Protection(self.settings, self.events, self.why)
        self.state = STATE[state]
        self.shown = shown
        self.derived.pump_on = int(state in ("trial", "pumping"))
        self.derived.commanded = TOLD if state in ("running", "closing", "draining") else 0
        self.usual = (*HEALTHY, *READS.get(state, ((GAP, 0),)))
        self.uptime_ds = 0
        if begun:
            self.show(())

    def show(self, readings, scans=1):
        """Judges some scans of the usual readings but for `readings`."""
        values = self.values
        for _ in range(scans):
            for place, value in (*self.usual, *readings):
                if place == GAP:
                    values[ch.VALVE_PERMILLE] = off_by(self.derived.commanded, value)
                elif place is not None:
                    values[place] = value
            values[ch.FLOW_UP] = values[ch.PULSES_UP] * UL_S_PER_PULSE
            values[ch.FLOW_DOWN] = values[ch.PULSES_DOWN] * UL_S_PER_PULSE
            if self.shown.before and readings:
                self.shown.before(self.derived, readings)
            bad = 0
            for place in range(ch.COLUMNS):
                bad |= (values[place] == ch.INVALID) << place
            for place in self.absent:
                values[place] = ch.INVALID
            self.uptime_ds += 1
            self.events.begin_scan(self.state, self.uptime_ds)
            self.derived.fill(values, self.state, 1)
            self.protection.judge(values, bad, self.state)
