"""The review page and the terminal summary: whole, offline, narrow, in plain words."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.balance import Measured
from forebay.paper import CAUTION, nice_step
from forebay.review import page, review_of, summary
from forebay.review.figures import pair, verdict
from forebay.review.standing import standing_of
from forebay.review.words import GRAVE, Event, events_of, sentence
from forebay.rig import load_text
from forebay.shelf import Shelf, decode
from forebay.shelf.local import zone_of
from forebay.words.protection import ELEMENTS
from keeper import channels, events, modes
from keeper.protection import elements
from tests.balance import rig as plant


@pytest.fixture(scope="module")
def review(tmp_path_factory):
    with Shelf(tmp_path_factory.mktemp("shelf") / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1)))
        return review_of(shelf, plant.DEMO, notes=["The night is <assumed> dark."])


def test_how_many_figures_are_assumed_is_one_line_where_the_file_marks_any(review, tmp_path):
    marks = '\n[assumed]\npump = ["rated_head"]\n'
    marked = load_text(plant.HILLSIDE.toml_text + marks, "rig.toml")
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1)))
        found = review_of(shelf, marked)
    said = f"{len(marked.assumed)} of {len(marked.figures)} figures of the rig are assumed"
    assert (page(found).count(said), found.balance.as_json()["notes"][0][:len(said)]) == (1, said)
    assert " ".join(summary(found).split()).count(said) == 1
    assert "are assumed, not measured" not in page(review) + " ".join(summary(review).split())


def test_the_summary_fits_eighty_columns_and_has_no_colour(review):
    text = summary(review)
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    assert text.isascii()
    for part in ("into the pump", "Light 2.2 h", "trips 0", CAUTION[:30], "closes ("):
        assert part in text


def test_a_shelf_without_any_time_still_reviews(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        for number, data in plant.files_of(plant.journal_of(plant.Errors())).items():
            shelf.put_segment(7, 0, number // 16384, number % 16384, data)
        review = review_of(shelf, plant.DEMO)
    assert "no plot" in page(review)
    assert "time unknown" in summary(review)


def test_values_carry_as_many_digits_as_their_uncertainty():
    assert pair(Measured(1234.567).with_part("a", 0.6)) == ("1234.6", "1.2")
    assert pair(Measured(1234.567).with_part("a", 60)) == ("1235", "120")
    assert pair(Measured(0.01234).with_part("a", 0.0006)) == ("0.0123", "0.0012")
    assert pair(Measured(-0.001).with_part("a", 0.6)) == ("0.0", "1.2")
    assert pair(None) == ("undefined", "")


def test_a_residual_of_more_than_two_u_is_not_sure_to_close_and_of_three_does_not():
    assert verdict(Measured(1.9).with_part("a", 1)).startswith("closes")
    assert verdict(Measured(2.1).with_part("a", 1)).startswith("not sure to close")
    assert verdict(Measured(-3.1).with_part("a", 1)).startswith("does not close")


def event(code, argument=0, argument2=0, state=0):
    table = np.zeros(1, decode([]).events.dtype)
    table["code"], table["argument"], table["argument2"] = code, argument, argument2
    table["state"] = state
    return table[0]


@pytest.mark.parametrize("row", elements.ELEMENTS)
def test_every_element_is_told_by_its_plain_name_and_first_look(row):
    number = elements.number(row[elements.E_ID])
    said = sentence(event(events.ACTED, number, row[elements.E_ACTION]))
    assert ELEMENTS[number].plain in said
    assert ELEMENTS[number].look in said


def acted(element, closed=()):
    """An element acts while some contacts, by their place in the list, are closed."""
    row = next(row for row in elements.ELEMENTS if row[elements.E_ID] == element)
    table = np.array([event(events.ACTED, elements.number(element), row[elements.E_ACTION])])
    table["contacts"] = sum(1 << place - channels.COLUMNS for place in closed)
    return sentence(table[0])


@pytest.mark.parametrize(("element", "contact", "when_open", "when_closed"), [
    ("71L-LVL", channels.C_71L_UP, "its low float is open as well", "its low float is closed"),
    ("71H-LVL", channels.C_71H_UP, "its float is open as well", "its float is closed")])
def test_what_a_float_did_is_told_by_its_own_contact(element, contact, when_open, when_closed):
    """It was told that the low float still floats while its contact was open."""
    assert when_open in acted(element)
    assert when_closed not in acted(element)
    assert when_closed in acted(element, [contact])
    assert when_open not in acted(element, [contact])


def test_the_clamp_is_not_said_to_carry_what_lies_below_its_voltage():
    """59-GEN acts at 13.8 V, the demo's clamp from 15 V on: the event does not know which."""
    assert "carries" not in acted("59-GEN")


@pytest.mark.parametrize(("state", "begins"), [
    (modes.PUMPING, "Over again: "), (modes.STANDSTILL, "No longer looked at: ")])
def test_an_element_that_lets_go_because_its_state_ended_is_not_said_to_be_over(state, begins):
    said = sentence(event(events.LET_GO, elements.number("37-PMP"), 5, state))
    assert said.startswith(begins)


def test_what_recurred_is_told_with_its_number_its_time_and_what_is_now():
    packed = 717 | 60 << events.MINUTES_SHIFT
    said = sentence(event(events.REPEATED, elements.number("71L-LO"), packed))
    assert "717 times more in 60 min; it does not act now." in said
    said = sentence(event(events.RESTARTED, elements.TURBINE, packed | events.NOW_BIT))
    assert said == ("The light started 717 times more in 60 min, each time after a stop;"
                    " it runs now.")


def test_a_rest_of_the_light_is_no_want_of_sun():
    assert sentence(event(events.HELD_OFF, elements.TURBINE, 240)) == (
        "The light was stopped: it rests for 240 s at least before it comes again.")


def test_what_ends_a_run_without_an_order_is_not_said_to_be_one():
    """Where nothing sees the sun, light that is due ends the pump's run: no order was given."""
    said = sentence(event(events.STATE, modes.PUMPING, modes.ORDERED_OFF, modes.STANDSTILL))
    assert "an order, or light that is due, ends what runs" in said


@pytest.mark.parametrize(("power_mW", "taken"), [
    (-1718770000, []), (-1, []), (300, [300]), (1000000, [1000000]), (2**31 - 1, [])])
def test_a_power_that_no_light_can_be_set_to_is_no_plan(power_mW, taken):
    """The review of a record of chance once ended with a power of -1.7 MW, exit code 1."""
    table = np.array([event(events.LIGHT_PLANNED, 1, power_mW), event(events.LIGHT_LASTS, 0, 60)])
    plans = standing_of(table, np.array([10.0, 11.0]), 0.0).plans
    assert [one.power_mW for one in plans] == taken
    assert "light at" in sentence(table[0])


def test_of_lights_in_order_those_that_were_over_are_left_out_whichever_stands_first():
    """A light of an unknown time may stand before one that was over."""
    lit = event(events.STATE, modes.STANDSTILL, modes.LIGHT_DUE, modes.RUNNING)
    out = event(events.STATE, modes.RUNNING, modes.ORDERED_OFF, modes.CLOSING)
    times_s = np.array([np.nan, np.nan, 10.0, 20.0, 30.0, 60.0])
    found = standing_of(np.array([lit, out] * 3), times_s, 40.0)

    assert [one.begin_s for one in found.lights_before] == [10.0]
    assert [str(one.begin_s) for one in found.lights] == ["nan", "30.0"]


def test_how_long_the_light_lasts_is_told_as_a_range():
    """330 and 450 minutes."""
    packed = 330 | 450 << events.MINUTES_BITS
    assert sentence(event(events.LIGHT_BETWEEN, 0, packed)) == (
        "At this power the water gives between 5.5 and 7.5 h of light.")
    assert sentence(event(events.LIGHT_BETWEEN, 1, packed)).startswith(
        "At the least useful power the water gives between 5.5")
    assert "may last" in sentence(event(events.LIGHT_PLANNED, 3, 150))


@pytest.mark.parametrize("code", [*events.EVENT_CODES, 200])
@given(st.integers(0, 255), st.integers(-(2**31), 2**31 - 1), st.integers(0, 255))
def test_every_event_of_any_content_is_one_sentence(code, argument, argument2, state):
    said = sentence(event(code, argument, argument2, state))
    assert said.endswith((".", "?"))
    assert "\n" not in said


def test_vain_trials_are_told_once_with_their_number():
    one = [event(events.STATE, 0, modes.SUN_ENOUGH, modes.TRIAL),
           event(events.HELD_OFF, 1, 60, modes.TRIAL),
           event(events.STATE, modes.TRIAL, modes.TOO_WEAK, modes.STANDSTILL)]
    good = [event(events.STATE, 0, modes.SUN_ENOUGH, modes.TRIAL),
            event(events.STATE, modes.TRIAL, modes.WATER_SEEN, modes.PUMPING)]
    found = events_of(np.array(one * 5 + good), np.arange(17.0))
    assert [each.text for each in found] == [
        "5 trial starts lifted too little water, as a rule for want of sun.",
        "Pumping, the pump is on, its trial is over: the flow up passed the least useful flow.",
    ]


def test_trips_are_grave_and_stops_are_not():
    actions = (elements.TRIP, elements.STOP)
    table = np.array([event(events.ACTED, 1, action) for action in actions])
    assert [each.grave for each in events_of(table, np.zeros(2))] == [True, False]


def test_no_alarm_is_ever_among_the_events_that_the_summary_leaves_out(review):
    """An alarm used to be among "18 more" while four lines of daily work were shown."""
    plain = [Event(float(at), f"Plain {at}.") for at in range(20)]
    found = [*plain, Event(20.0, "Locked out.", GRAVE)]
    text = summary(replace(review, events=found))
    assert "Plain 10." in text
    assert text.index("Plain 10.") < text.index("Locked out.")
    assert "Plain 11." not in text
    assert "... and 9 more of daily work" in text
    many = [*plain, *[Event(20.0 + at, f"Trip {at}.", GRAVE) for at in range(30)]]
    text = summary(replace(review, events=many))
    assert [f"Trip {at}." in text for at in range(30)] == [True] * 30
    assert "Plain 0." not in text


@given(st.floats(1e-3, 1e5))
def test_a_scale_has_few_steps_and_reaches_its_value(highest):
    step = nice_step(highest)
    assert 1 <= np.ceil(highest / step - 1e-6) <= 5


def test_zones_follow_the_longitude():
    assert str(zone_of(-106.0)) == "UTC-07:00"
    assert str(zone_of(7.4)) == "UTC"


def test_of_a_contact_that_is_absent_it_is_not_said_that_it_is_open():
    row = next(row for row in elements.ELEMENTS if row[elements.E_ID] == "71H-LVL")
    one = event(events.ACTED, elements.number("71H-LVL"), row[elements.E_ACTION])

    assert "its float is open as well" in sentence(one)
    assert "float is" not in sentence(one, absent=1 << channels.C_71H_UP)


def test_what_a_rig_lacks_is_news_only_where_it_changes():
    def lacks(*places):
        return event(events.NOT_FITTED, 0, sum(1 << place for place in places))

    table = np.array([lacks(channels.LEVEL_MM, channels.C_STOP),
                      lacks(channels.LEVEL_MM, channels.C_STOP), lacks(channels.C_STOP)])

    assert [one.text for one in events_of(table, np.arange(3.0))] == [
        "From this start on the rig lacks HS-2."]
