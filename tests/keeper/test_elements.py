"""Every row of the table of protection, alone, tested by what `statement` says of it."""

import pytest

from keeper import channels as ch
from keeper import settings as st
from keeper.events import ACTED, LET_GO, READING_BAD, EventQueue
from keeper.protection import elements as el
from keeper.protection.derived import LEVEL_MEAN, VALUES
from keeper.protection.judging import PERIOD_MS, ROWS, Protection
from tests.keeper import statement as said
from tests.keeper.scripted import HEALTHY, Bench, settings_with
from tests.keeper.stimuli import SIDE, STATE, VALUE_NAMES, number_of, without

IDS = list(said.IDS)
every_row = pytest.mark.parametrize("index", range(len(IDS)), ids=IDS)
MEASURING = [i for i, row in enumerate(said.STATEMENT) if row.sense != "?"]
measuring_rows = pytest.mark.parametrize("index", MEASURING, ids=[IDS[i] for i in MEASURING])
SENSORS = [i for i, row in enumerate(said.STATEMENT) if row.sense == "?"]
sensor_rows = pytest.mark.parametrize("index", SENSORS, ids=[IDS[i] for i in SENSORS])


def state_in(armed, wanted=True):
    """The first state among the armed ones, or the first that is not; None if there is none."""
    for name, state in STATE.items():
        if (name in armed) == wanted:
            return state
    return None


class Row:
    """One element at work, alone: all other values stay healthy."""

    def __init__(self, index, changes=()):
        self.index = index
        self.said = said.STATEMENT[index]
        self.place = VALUE_NAMES.index(self.said.value)
        self.target = SIDE[self.said.side]
        self.settings = settings_with([without(self.said.id), *changes])
        self.pickup = number_of(self.said.pickup, self.settings)
        self.reset = number_of(self.said.reset, self.settings)
        if self.said.sense == "?":
            self.beyond, self.between = ch.INVALID, []
            self.inside = dict(HEALTHY).get(self.place, 0)
        else:
            outward = 1 if self.said.sense == ">" else -1
            self.beyond = self.pickup + outward
            self.inside = self.reset
            # Nothing lies between two limits that are one.
            self.between = [] if self.pickup == self.reset else [self.pickup, self.reset + outward]
        self.delay_ms = number_of(self.said.delay, self.settings)
        self.delay = self.delay_ms // PERIOD_MS
        self.values = [0] * VALUES
        self.events = EventQueue(16, self.values, VALUES)
        self.why = [ch.OUT_OF_RANGE] * ch.COLUMNS
        self.protection = Protection(self.settings, self.events, self.why)
        for place, value in HEALTHY:
            self.values[place] = value
        self.values[LEVEL_MEAN] = self.values[ch.LEVEL_MM]
        self.state = state_in(self.said.armed)
        self.uptime_ds = 0
        self.show(self.inside)

    def show(self, value, scans=1):
        """Judges some scans of one value; returns whether the element acts."""
        self.values[self.place] = value
        for _ in range(scans):
            self.events.begin_scan(self.state, self.uptime_ds)
            bad = 0
            for place in range(ch.COLUMNS):
                bad |= (self.values[place] == ch.INVALID) << place
            self.protection.judge(self.values, bad, self.state)
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
def test_the_delay_of_a_row_is_a_time(index):
    row = el.ELEMENTS[index]
    assert isinstance(row[el.E_DELAY_MS], int) or row[el.E_DELAY_MS].endswith("_ms")


@measuring_rows
def test_the_reset_lies_on_the_safe_side_of_the_pickup(index):
    row = Row(index)
    if row.said.sense == ">":
        assert row.reset <= row.pickup
    else:
        assert row.reset >= row.pickup
    names = (row.said.reset, row.said.pickup)
    if row.pickup != row.reset and isinstance(names[0], str):
        pairs = names if row.said.sense == ">" else names[::-1]
        assert pairs in st.ORDERED


@every_row
def test_a_delay_is_a_whole_number_of_scans(index):
    assert Row(index).delay_ms % PERIOD_MS == 0


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


@pytest.mark.parametrize("name", [row.id for row in said.STATEMENT if isinstance(row.delay, str)])
def test_a_delay_of_nothing_acts_in_the_scan_that_sees_it(name):
    row = Row(IDS.index(name), [(said.BY_ID[name].delay, 0)])
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
    own = {row.value: row for row in said.STATEMENT if row.sense == "?"}
    flows = {"flow_up_uL_s", "flow_down_uL_s"}  # derived from pulses: never untrusted
    assert set(own) == {row[0] for row in ch.CHANNELS} - flows
    # A supply that was low stays so when its reading is lost: no new start is enough.
    for row in said.STATEMENT:
        if row.value in own and row.sense != "?" and row.does in said.BARS:
            harshest = said.INHIBIT if row.value == "supply_mV" else min(
                row.does, said.STOP, key=said.ACTIONS.index)
            assert said.ACTIONS.index(own[row.value].does) >= said.ACTIONS.index(harshest)
            assert set(row.side) <= set(own[row.value].side)


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
    same = [one for one in range(ROWS) if said.STATEMENT[one].value == row.said.value]
    assert [one for one in range(ROWS) if row.protection.acting[one] and one not in same] == []
    assert row.protection.acting[index]
    words = sum(row.protection.acting_word(word) << 16 * word for word in range(4))
    assert words == sum(acts << one for one, acts in enumerate(row.protection.acting))
    assert row.protection.hold == (row.target if row.said.does in said.ENDS else 0)
    assert row.protection.inhibit == (row.target if row.said.does == said.INHIBIT else 0)
    assert row.protection.tripped == (row.target if row.said.does in said.COUNTS else 0)
    row.show(row.beyond)
    assert row.protection.tripped == 0


@every_row
def test_it_is_armed_only_where_it_is_said_to_be(index):
    for name, state in STATE.items():
        row = Row(index)
        row.state = state
        assert row.show(row.beyond, row.delay + 1) == (name in row.said.armed)


@pytest.mark.parametrize("name", [row.id for row in said.STATEMENT if row.armed != said.ALWAYS])
def test_an_element_that_is_disarmed_lets_go_at_once(name):
    row = Row(IDS.index(name))
    row.show(row.beyond, row.delay + 1)
    row.state = state_in(row.said.armed, wanted=False)
    row.uptime_ds = 77
    assert not row.show(row.beyond)
    assert row.posted(LET_GO) == 1
    told = [slot[1:5] for slot in row.events.slots if slot[0] == LET_GO]
    assert [(number, state, at_ds) for number, _, state, at_ds in told] == [
        (row.index + 1, row.state, 77)]


@every_row
def test_the_first_out_keeps_the_inputs_of_its_scan(index):
    row = Row(index)
    assert set(row.protection.first_values) == {0}
    row.show(row.beyond, row.delay)
    mark = ch.SUPPLY_MA if row.place != ch.SUPPLY_MA else ch.PANEL_MA
    row.values[mark] = 777
    row.show(row.beyond)
    if row.said.does not in said.ENDS:
        assert row.protection.first == 0
        return
    assert row.protection.first == index + 1
    assert row.protection.first_values == row.values
    kept = list(row.values)
    for other in said.STATEMENT:
        row.values[VALUE_NAMES.index(other.value)] = ch.INVALID
    row.values[mark] = 1
    row.show(ch.INVALID, 100)
    assert row.protection.first == index + 1
    assert row.protection.first_values == kept


@sensor_rows
@pytest.mark.parametrize("reason", ch.REASONS)
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
