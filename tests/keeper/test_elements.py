"""Every row of the table of protection, tested by what the row itself says."""

import pytest

from keeper import channels as ch
from keeper import elements as el
from keeper import modes as mo
from keeper import settings as st
from keeper.derived import LEVEL_MEAN, VALUES
from keeper.events import ACTED, LET_GO, READING_BAD, EventQueue
from keeper.protection import PERIOD_MS, ROWS, Protection
from tests.keeper.scripted import HEALTHY, Bench, settings_with

IDS = [row[el.E_ID] for row in el.ELEMENTS]
every_row = pytest.mark.parametrize("index", range(len(el.ELEMENTS)), ids=IDS)
MEASURING = [i for i, row in enumerate(el.ELEMENTS) if row[el.E_SENSE] != "?"]
measuring_rows = pytest.mark.parametrize("index", MEASURING, ids=[IDS[i] for i in MEASURING])
SENSORS = [i for i, row in enumerate(el.ELEMENTS) if row[el.E_SENSE] == "?"]
sensor_rows = pytest.mark.parametrize("index", SENSORS, ids=[IDS[i] for i in SENSORS])


def state_in(mask, wanted=True):
    """The first state in a mask, or the first that is not; None if there is none."""
    for state in range(len(mo.STATES)):
        if bool(mask >> state & 1) == wanted:
            return state
    return None


class Row:
    """One element at work, alone: all other values stay healthy."""

    def __init__(self, index, changes=()):
        self.index = index
        self.row = el.ELEMENTS[index]
        self.place = int(self.row[el.E_VALUE])
        self.armed = int(self.row[el.E_ARMED])
        self.action = int(self.row[el.E_ACTION])
        self.target = int(self.row[el.E_TARGET])
        self.settings = settings_with(changes)
        self.pickup = self._limit(el.E_PICKUP)
        self.reset = self._limit(el.E_RESET)
        if self.row[el.E_SENSE] == "?":
            self.beyond, self.inside, self.between = ch.INVALID, 0, []
        else:
            outward = 1 if self.row[el.E_SENSE] == ">" else -1
            self.beyond = self.pickup + outward
            self.inside = self.reset
            # Nothing lies between two limits that are one.
            self.between = [] if self.pickup == self.reset else [self.pickup, self.reset + outward]
        self.delay = self._delay_ms() // PERIOD_MS
        self.events = EventQueue(16, VALUES)
        self.why = [ch.OUT_OF_RANGE] * ch.COLUMNS
        self.protection = Protection(self.settings, self.events, self.why)
        self.values = [0] * VALUES
        for place, value in HEALTHY:
            self.values[place] = value
        self.values[LEVEL_MEAN] = self.values[ch.LEVEL_MM]
        self.state = state_in(self.armed)
        self.values[self.place] = self.inside

    def _limit(self, place):
        limit = self.row[place]
        return limit if isinstance(limit, int) else self.settings[st.index(limit)]

    def _delay_ms(self):
        delay = self.row[el.E_DELAY]
        return delay if isinstance(delay, int) else self.settings[st.index(delay)]

    def show(self, value, scans=1):
        """Judges some scans of one value; returns whether the element acts."""
        self.values[self.place] = value
        for _ in range(scans):
            bad = 0
            for place in range(ch.COLUMNS):
                bad |= (self.values[place] == ch.INVALID) << place
            self.protection.judge(self.values, bad, self.state, 0)
        return self.acts

    @property
    def acts(self):
        return bool(self.protection.acting[self.index])

    def posted(self, code):
        slots = self.events.slots[:self.events.count]
        return sum(slot[0] == code and slot[1] == self.index + 1 for slot in slots)

    def let_go(self):
        """Shows safe values for as long as a full delay needs to run down."""
        return self.show(self.inside, 2 * self.delay + 2)


def test_ids_are_unique_and_numbers_are_the_rows():
    assert len(set(IDS)) == len(IDS)
    assert [el.number(name) for name in IDS] == list(range(1, len(IDS) + 1))
    with pytest.raises(ValueError, match="no element"):
        el.number("99-NONE")


@every_row
def test_a_row_is_whole(index):
    row = el.ELEMENTS[index]
    assert row[el.E_SENSE] in ("<", ">", "?")
    assert row[el.E_ACTION] in [action[0] for action in el.ACTIONS]
    assert row[el.E_TARGET] in (el.PUMP, el.TURBINE, el.BOTH)
    assert 0 < row[el.E_ARMED] <= el.ALWAYS
    assert isinstance(row[el.E_DELAY], int) or row[el.E_DELAY].endswith("_ms")
    assert row[el.E_RETRIES] == ("trip_retries" if row[el.E_ACTION] == el.TRIP else 0)
    assert row[el.E_WHERE] == el.ANYWHERE or row[el.E_ACTION] >= el.TRIP
    assert row[el.E_NAME]
    assert row[el.E_LOOK]


@measuring_rows
def test_the_reset_lies_on_the_safe_side_of_the_pickup(index):
    row = Row(index)
    if row.row[el.E_SENSE] == ">":
        assert row.reset <= row.pickup
    else:
        assert row.reset >= row.pickup
    names = (row.row[el.E_RESET], row.row[el.E_PICKUP])
    if row.pickup != row.reset and isinstance(names[0], str):
        pairs = names if row.row[el.E_SENSE] == ">" else names[::-1]
        assert pairs in st.ORDERED


@every_row
def test_a_delay_is_a_whole_number_of_scans(index):
    row = Row(index)
    assert row._delay_ms() % PERIOD_MS == 0


@every_row
def test_below_between_above_between_below(index):
    row = Row(index)
    assert not row.show(row.inside, 5)
    for value in row.between:
        assert not row.show(value, 3 * row.delay + 3)
    assert row.show(row.beyond, row.delay + 1)
    for value in row.between:
        assert row.show(value, 3 * row.delay + 3)
    assert not row.let_go()
    assert row.posted(ACTED) == 1
    assert row.posted(LET_GO) == 1


@every_row
def test_the_delay_is_kept_to_the_scan(index):
    row = Row(index)
    assert not row.show(row.beyond, row.delay) if row.delay else not row.acts
    assert row.show(row.beyond)


@every_row
def test_a_delay_of_nothing_acts_in_the_scan_that_sees_it(index):
    delay = el.ELEMENTS[index][el.E_DELAY]
    if isinstance(delay, str):
        row = Row(index, [(delay, 0)])
        assert row.show(row.beyond)


@every_row
def test_a_spell_shorter_than_the_delay_is_forgotten(index):
    row = Row(index)
    for _ in range(5):
        assert not row.show(row.beyond, row.delay)
        assert not row.let_go()
    assert row.posted(ACTED) == 0


@measuring_rows
def test_a_value_that_cannot_be_trusted_leaves_its_element_as_it_is(index):
    row = Row(index)
    assert not row.show(ch.INVALID, row.delay + 50)
    row.show(row.beyond, row.delay + 1)
    assert row.show(ch.INVALID, row.delay + 50)
    assert not row.let_go()


@sensor_rows
def test_a_sensors_own_element_says_why(index):
    row = Row(index)
    row.why[row.place] = ch.STALE
    row.show(row.beyond, row.delay + 1)
    told = [slot[1:3] for slot in row.events.slots if slot[0] == READING_BAD]
    assert told == [[row.place, ch.STALE]]


def test_every_measured_channel_has_its_own_element_that_holds_off_as_much():
    """Else an element on a bad reading would stand still with nobody to act."""
    own = {int(row[el.E_VALUE]): row for row in el.ELEMENTS if row[el.E_SENSE] == "?"}
    flows = {ch.FLOW_UP, ch.FLOW_DOWN}  # derived from pulses: never untrusted
    assert set(own) == set(range(ch.COLUMNS)) - flows
    trips = {ch.MOTOR_MDEGC, ch.GENERATOR_MV, ch.VALVE_PERMILLE}
    for place in trips:
        harshest = 0
        for row in el.ELEMENTS:
            if row[el.E_VALUE] == place and row[el.E_ACTION] >= el.STOP and row[el.E_SENSE] != "?":
                harshest |= row[el.E_TARGET]
        assert own[place][el.E_ACTION] >= el.STOP
        assert own[place][el.E_TARGET] & harshest == harshest


@every_row
def test_a_sensor_that_chatters_half_of_the_time_acts_once(index):
    row = Row(index)
    scans = 0
    while not row.acts:
        row.show(row.beyond if scans % 2 == 0 else row.inside)
        scans += 1
        assert scans <= 4 * row.delay + 1
    for scan in range(60):
        row.show(row.beyond if scan % 2 == 0 else row.inside)
    assert row.acts
    assert row.posted(ACTED) == 1
    assert not row.let_go()


@every_row
def test_it_holds_off_its_own_side_and_no_other(index):
    row = Row(index)
    row.show(row.inside)
    assert row.protection.hold == 0
    row.show(row.beyond, row.delay + 1)
    # Another element may judge the same value by a milder limit.
    same = [one for one in range(ROWS) if el.ELEMENTS[one][el.E_VALUE] == row.place]
    assert [one for one in range(ROWS) if row.protection.acting[one] and one not in same] == []
    assert row.protection.acting[index]
    words = sum(row.protection.acting_word(word) << 16 * word for word in range(4))
    assert words == sum(acts << one for one, acts in enumerate(row.protection.acting))
    assert row.protection.hold == (row.target if row.action >= el.STOP else 0)
    assert row.protection.inhibit == (row.target if row.action == el.INHIBIT else 0)
    assert row.protection.tripped == (row.target if row.action >= el.TRIP else 0)
    row.show(row.beyond)
    assert row.protection.tripped == 0


@every_row
def test_it_is_armed_only_where_the_row_says(index):
    for state in range(len(mo.STATES)):
        row = Row(index)
        row.state = state
        assert row.show(row.beyond, row.delay + 1) == bool(row.armed >> state & 1)


@every_row
def test_an_element_that_is_disarmed_lets_go_at_once(index):
    row = Row(index)
    row.show(row.beyond, row.delay + 1)
    row.state = state_in(row.armed, wanted=False)
    if row.state is not None:
        assert not row.show(row.beyond)


@every_row
def test_the_first_out_keeps_the_inputs_of_its_scan(index):
    row = Row(index)
    row.show(row.beyond, row.delay)
    mark = ch.SUPPLY_MA if row.place != ch.SUPPLY_MA else ch.PANEL_MA
    row.values[mark] = 777
    row.show(row.beyond)
    if row.action < el.STOP:
        assert row.protection.first == 0
        return
    assert row.protection.first == index + 1
    assert row.protection.first_values == row.values
    kept = list(row.values)
    for other in range(len(IDS)):
        row.values[int(el.ELEMENTS[other][el.E_VALUE])] = ch.INVALID
    row.values[mark] = 1
    row.show(ch.INVALID, 100)
    assert row.protection.first == index + 1
    assert row.protection.first_values == kept


@sensor_rows
@pytest.mark.parametrize("reason", range(len(ch.REASONS)), ids=ch.REASONS)
def test_the_scan_passes_a_bad_reading_on_with_its_reason(index, reason):
    row = Row(index)
    bench = Bench()
    bench.run(row.delay + 1, [(row.place, ch.INVALID + reason)])
    assert bench.scan.values[row.place] == ch.INVALID
    assert bench.scan.why[row.place] == reason
    acting = bench.scan.protection.acting
    assert [i for i in range(ROWS) if acting[i]] == [index]
    told = [event[1:3] for event in bench.events if event[0] == READING_BAD]
    assert told == [(row.place, reason)]


def test_is_timing_looks_at_short_delays_that_have_not_acted():
    row = Row(IDS.index("26-MOT"))
    row.show(row.beyond)
    assert row.protection.is_timing(5000)
    assert not row.protection.is_timing(1000)  # its own delay is no shorter
    row.show(row.beyond, row.delay)
    assert not row.protection.is_timing(5000)
