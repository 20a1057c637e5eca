"""Protection does what its documentation tells, whatever is read in whatever state."""

import random

from hypothesis import given, settings
from hypothesis import strategies as some

from keeper import channels as ch
from keeper import settings as st
from keeper.events import ACTED, EventQueue
from keeper.protection.derived import LEVEL_MEAN, VALUES
from keeper.protection.elements import PUMP, TURBINE
from keeper.protection.judging import ROWS, Protection
from tests.keeper import statement as said
from tests.keeper.plainly import Plainly
from tests.keeper.scripted import HEALTHY, settings_with
from tests.keeper.stimuli import STATE, VALUE_NAMES, number_of

LATE_DS = 1 << 20   # long after every delay
NUMBERS = settings_with([("flow_sure_mW", 10000), ("valve_sure_permille", 499)])
FITTED = st.index("fitted")
PLACES = sorted({VALUE_NAMES.index(row.value) for row in said.STATEMENT})


def points_of(place):
    """Values on both sides of every limit by which a place is judged, and none to trust."""
    points = {ch.INVALID} if place < ch.COLUMNS or place == LEVEL_MEAN else set()
    for row in said.STATEMENT:
        if VALUE_NAMES.index(row.value) == place:
            for limit in (row.pickup, row.reset):
                if row.sense != "?":
                    number = number_of(limit, NUMBERS)
                    points |= {number - 1, number, number + 1}
    points.add(dict(HEALTHY).get(place, 0))
    return sorted(points)


LIMITS = {place: points_of(place) for place in PLACES}
LENGTHS = [1, 1, 1, 2, 3, 4, 5, 6, 7, 11, 31, 61, 160, 620]
STATES = list(STATE.values())
STORIES, STAGES = 300, 15
NEW_STATE = 0.3  # how often
LEAST = sum(1 << place for place in (ch.GENERATOR_MV, ch.LAMP_MA, ch.MOTOR_MDEGC, ch.C_71H_UP,
                                     ch.C_71L_LO, ch.BUTTON))
# What rigs have: all; no level, water temperature, valve's position or lower tank's float; the
# least that can be kept safe, without and with the panel's voltage.
RIGS = (ch.ALL_FITTED,
        ch.ALL_FITTED & ~(1 << ch.LEVEL_MM | 1 << ch.WATER_MDEGC | 1 << ch.VALVE_PERMILLE
                         | 1 << ch.C_71L_LO),
        LEAST, LEAST | 1 << ch.PANEL_MV)
OFTEN = (6, 1, 2, 1)
CHANGE = some.sampled_from(PLACES).flatmap(
    lambda place: some.tuples(some.just(place), some.sampled_from(LIMITS[place])))
STORY = some.lists(some.tuples(some.lists(CHANGE, max_size=4), some.sampled_from(STATES),
                               some.sampled_from(LENGTHS)), max_size=12)


class Both:
    """The keeper's protection and the plain account of it, on the same values."""

    def __init__(self, numbers):
        self.values = [0] * VALUES
        self.events = EventQueue(256, self.values, ch.COLUMNS)
        self.protection = Protection(numbers, self.events, [0] * ch.COLUMNS)
        self.plain = Plainly(numbers)
        self.told = []
        for place, value in HEALTHY:
            self.values[place] = value
        self.values[LEVEL_MEAN] = dict(HEALTHY)[ch.LEVEL_MM]
        self.see()

    def see(self):
        """Notes which values are none, after they changed."""
        self.bad = sum(1 << place for place in range(ch.COLUMNS)
                       if self.values[place] == ch.INVALID)

    def judge(self, state):
        self.events.begin_scan(state, LATE_DS)
        self.protection.judge(self.values, self.bad, state)
        self.plain.judge(self.values, state)
        while self.events.count:
            self.told.append(tuple(self.events.oldest()[:3]))
            self.events.drop()

    def agree(self):
        """What every scan publishes."""
        protection, plain = self.protection, self.plain
        assert self.told == plain.told
        assert protection.acting == [int(row.acts) for row in plain.rows]
        assert (protection.tripped, protection.struck) == (plain.tripped, plain.struck)
        assert protection.hold == plain.sides(said.ENDS)
        assert protection.inhibit == plain.sides((said.INHIBIT,))
        assert protection.first == plain.first

    def agree_when_asked(self):
        """What others ask for now and then."""
        protection, plain = self.protection, self.plain
        assert [bool(n) for n in protection.count] == [bool(row.count) for row in plain.rows]
        assert protection.cause_present() == plain.is_cause()
        for ms in (500, 1000, 5000, 20000):
            assert protection.is_timing(ms) == plain.times(ms // 100)
        for side in (PUMP, TURBINE):
            for state in range(len(STATE)):
                assert protection.holds_in(side, state) == plain.held_in(side, state)
        bits = sum(protection.acting_word(word) << 16 * word for word in range(4))
        assert bits == sum(1 << i for i in range(ROWS) if protection.acting[i])


def told(story, fitted):
    """Tells a story of a rig to both; returns the numbers of the elements that acted."""
    numbers = list(NUMBERS)
    numbers[FITTED] = fitted
    both = Both(numbers)
    for changes, state, scans in story:
        for place, value in changes:
            fitted = place >= ch.FITTABLE or numbers[FITTED] >> place & 1
            both.values[place] = value if fitted else ch.INVALID
        both.see()
        for _ in range(scans):
            both.judge(state)
            both.agree()
        both.agree_when_asked()
    return {number for code, number, _ in both.told if code == ACTED}


@given(STORY, some.sampled_from(RIGS))
@settings(max_examples=60)
def test_protection_does_what_is_told_of_it(story, fitted):
    told(story, fitted)


def test_it_does_so_in_stories_in_which_every_element_acts_and_several_at_once():
    """Chance of its own, always the same: up to eight readings change at a time."""
    chance = random.Random(8)
    acted = set()
    for _ in range(STORIES):
        story = []
        state = chance.choice(STATES)
        for _ in range(STAGES):
            if chance.random() < NEW_STATE:
                state = chance.choice(STATES)
            places = chance.choices(PLACES, k=chance.randint(1, 8))
            changes = [(place, chance.choice(LIMITS[place])) for place in places]
            story.append((changes, state, chance.choice(LENGTHS)))
        acted |= told(story, *chance.choices(RIGS, OFTEN))
    assert acted == set(range(1, ROWS + 1))
