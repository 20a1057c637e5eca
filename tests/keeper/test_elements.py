"""Every row of the table of protection, tested by what the row itself says."""

import pytest

from keeper import channels as ch
from keeper import elements as el
from keeper import settings as st
from keeper.events import ACTED, LET_GO, EventQueue
from keeper.protection import PERIOD_MS, Protection
from tests.keeper.scripted import Bench, settings_with

IDS = [row[el.E_ID] for row in el.ELEMENTS]
every_row = pytest.mark.parametrize("index", range(len(el.ELEMENTS)), ids=IDS)


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
        outward = 1 if self.row[el.E_SENSE] == ">" else -1
        self.beyond = self.pickup + outward
        self.inside = self.reset
        # Nothing lies between the two limits of a contact.
        self.between = [] if self.pickup == self.reset else [self.pickup, self.reset + outward]
        self.delay = self.settings[st.index(self.row[el.E_DELAY])] // PERIOD_MS
        self.events = EventQueue(16, ch.VALUES)
        self.protection = Protection(self.settings, self.events)
        self.values = list(Bench().inputs)
        self.mode = 1 << el.TURBINE_MODE
        self.values[self.place] = self.inside

    def _limit(self, place):
        limit = self.row[place]
        return limit if isinstance(limit, int) else self.settings[st.index(limit)]

    def show(self, value, scans=1):
        """Judges some scans of one value; returns whether the element acts."""
        self.values[self.place] = value
        for _ in range(scans):
            self.protection.judge(self.values, self.mode, 0, 0)
        return self.acts

    @property
    def acts(self):
        return bool(self.protection.acting >> self.index & 1)

    def posted(self, code):
        slots = [self.events.slots[n] for n in range(self.events.count)]
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
    assert row[el.E_SENSE] in ("<", ">")
    assert row[el.E_ACTION] in [action[0] for action in el.ACTIONS]
    assert row[el.E_TARGET] in (el.PUMP, el.TURBINE)
    assert row[el.E_ARMED] & el.ALWAYS
    assert row[el.E_DELAY].endswith("_ms")
    assert row[el.E_NAME]
    assert row[el.E_LOOK]


@every_row
def test_the_reset_lies_on_the_safe_side_of_the_pickup(index):
    row = Row(index)
    if row.row[el.E_SENSE] == ">":
        assert row.reset <= row.pickup
    else:
        assert row.reset >= row.pickup
    if row.pickup != row.reset:
        assert (row.row[el.E_RESET], row.row[el.E_PICKUP]) in st.ORDERED


@every_row
def test_a_delay_is_a_whole_number_of_scans(index):
    row = Row(index)
    assert row.settings[st.index(row.row[el.E_DELAY])] % PERIOD_MS == 0


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
    row = Row(index, [(el.ELEMENTS[index][el.E_DELAY], 0)])
    assert row.show(row.beyond)


@every_row
def test_a_spell_shorter_than_the_delay_is_forgotten(index):
    row = Row(index)
    for _ in range(5):
        assert not row.show(row.beyond, row.delay)
        assert not row.let_go()
    assert row.posted(ACTED) == 0


@every_row
def test_a_broken_sensor_acts_and_lets_go_when_it_is_back(index):
    row = Row(index)
    assert row.show(ch.INVALID, row.delay + 1)
    assert row.show(ch.INVALID, 50)
    assert not row.let_go()


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
    assert row.protection.acting == 1 << index
    assert row.protection.hold == (row.target if row.action >= el.STOP else 0)
    assert row.protection.tripped == (row.target if row.action == el.TRIP else 0)
    row.show(row.beyond)
    assert row.protection.tripped == 0


@every_row
def test_it_is_armed_only_where_the_row_says(index):
    row = Row(index)
    for mode in (el.STANDSTILL_MODE, el.PUMP_MODE, el.TURBINE_MODE):
        row.mode = 1 << mode
        assert row.show(row.beyond, row.delay + 1) == bool(row.armed & row.mode)
        row.let_go()


@every_row
def test_an_element_that_is_disarmed_lets_go_at_once(index):
    row = Row(index)
    row.show(row.beyond, row.delay + 1)
    row.mode = 0
    assert not row.show(row.beyond)


@every_row
def test_the_first_out_keeps_the_inputs_of_its_scan(index):
    row = Row(index)
    row.show(row.beyond, row.delay)
    row.values[ch.LEVEL_MM] = 777
    row.show(row.beyond)
    assert row.protection.first == index + 1
    assert row.protection.first_values == row.values
    kept = list(row.values)
    for other in range(len(IDS)):
        row.values[int(el.ELEMENTS[other][el.E_VALUE])] = ch.INVALID
    row.values[ch.LEVEL_MM] = 1
    row.show(ch.INVALID, 100)
    assert row.protection.first == index + 1
    assert row.protection.first_values == kept


@every_row
def test_the_scan_passes_a_reading_out_of_range_on_as_untrusted(index):
    row = Row(index)
    value = row.place
    bench = Bench()
    wrong = int(ch.CHANNELS[value][ch.CH_HIGH]) + 1 if value < ch.COLUMNS else ch.INVALID
    # A valve that still stands open keeps the turbine's elements armed.
    bench.run(row.delay + 1, [(ch.VALVE_PERMILLE, 500), (value, wrong)])
    assert bench.scan.values[value] == ch.INVALID
    assert bench.scan.protection.acting == 1 << index


def test_of_two_trips_in_one_scan_the_upper_row_is_named():
    row = Row(IDS.index("71HH-UP"), [(row[el.E_DELAY], 0) for row in el.ELEMENTS])
    row.values[ch.MOTOR_MDEGC] = ch.INVALID
    row.show(0)
    assert row.protection.tripper[el.PUMP] == el.number("71HH-UP")
    assert row.protection.tripper[el.TURBINE] == 0
