"""A rehearsal is fast enough on CPython as well."""

from tests.bench import rehearsal_cost


def test_a_scan_with_its_plant_costs_no_more_turns_of_a_plain_loop_than_promised():
    turns, _ = rehearsal_cost.measured()
    assert turns <= rehearsal_cost.MOST_TURNS
