"""Which time the figures cover: where rows and totals show it, and nowhere else."""

from types import SimpleNamespace

import numpy as np
import pytest

from forebay.balance import balance_of
from forebay.balance.covered import Rowed
from keeper import events
from keeper.modes import PUMPING, RUNNING, STANDSTILL
from tests.balance import rig as plant
from tests.balance.small import changed, happened, journal, kept, rows, totals
from tests.balance.test_periods import BEGAN_S, clock, still

DAY = plant.Errors()


def told(one):
    return balance_of(one, clock((1, 0)), plant.DEMO)


def spans_of(found):
    return [(round(begin - BEGAN_S), round(end - BEGAN_S)) for begin, end in found.stretches_s]


def test_totals_that_reach_beyond_the_rows_are_left_to_the_rows():
    # The period ends with the last row; to there the rows' own sum counts, 24 V x 1 A.
    made = rows(*still(100, 200, also={0: 2400, 1: 1000}))
    said = happened(changed(1, 0, STANDSTILL, STANDSTILL, totals()))
    found = told(journal(made, said, kept((1, 0, totals()), (1, 9000, totals(panel=10**9)))))
    assert spans_of(found) == [(0, 20)]
    assert found.from_rows_s == 20
    assert found.energies["panel"].value == pytest.approx(24 * 1.0 * 20, rel=1e-6)


def test_what_rows_sum_to_is_less_certain_than_totals():
    made = rows(*still(*range(100, 6001, 100), also={0: 2400, 1: 10}))
    mJ = round(24 * 0.010 * 600 * 1000)
    exact = told(journal(made, None, kept((1, 0, totals()), (1, 6000, totals(panel=mJ)))))
    summed = told(journal(made))
    assert summed.energies["panel"].value == pytest.approx(exact.energies["panel"].value)
    # Half a step of 1 mA is 5 % of 10 mA: a rectangle of that half-width.
    more = (summed.energies["panel"].u ** 2 - exact.energies["panel"].u ** 2) ** 0.5
    assert more > 0.05 * mJ / 1000 / 3**0.5
    assert any("no totals are held" in note for note in summed.notes)


def test_a_gap_that_no_totals_bridge_parts_the_time_in_two():
    made = rows(*still(100, 200, 5100, 5200, also={0: 2400, 1: 1000}))
    made.seq[:] = [1, 2, 50, 51]
    found = told(journal(made))
    assert spans_of(found) == [(0, 20), (500, 520)]
    assert found.covered_s == 40
    assert (found.gaps, found.gap_s) == (0, 0.0)
    assert any("2 stretches" in note for note in found.notes)


@pytest.mark.parametrize("missing", [False, True])
def test_a_gap_is_bridged_only_if_the_events_of_its_time_are_all_there(missing):
    # Between the rows the pump may have run, and no event says so.
    made = rows(*still(100, 200, 5100, 5200))
    made.seq[:] = [1, 2, 50, 51]
    said = happened(changed(1, 0, STANDSTILL, STANDSTILL, totals()),
                    (1, 5000, events.ACTED, 0, STANDSTILL, totals()))
    said["seq"] = [1, 3] if missing else [1, 2]
    found = told(journal(made, said, kept((1, 0, totals()), (1, 5200, totals()))))
    assert spans_of(found) == ([(0, 20), (500, 520)] if missing else [(0, 520)])


def test_events_that_wait_on_the_board_leave_the_state_after_the_last_unknown():
    made = rows(*still(100, 200, 5100, 5200))
    made.seq[:] = [1, 2, 50, 51]
    one = journal(made, happened(changed(1, 0, STANDSTILL, STANDSTILL, totals())),
                  kept((1, 0, totals()), (1, 5200, totals())))
    assert spans_of(told(one)) == [(0, 520)]
    one.findings.not_pulled.append("e00001")
    assert spans_of(told(one)) == [(0, 20), (500, 520)]


def test_where_rows_show_another_state_than_the_events_rows_are_taken():
    # The event that ended the pumping is not there: the water let down is no water lifted.
    made = rows((1, 100, 100, PUMPING, {8: 500}), (1, 200, 100, RUNNING, {9: 250}),
                (1, 300, 100, RUNNING, {9: 250}))
    one = journal(made, happened(changed(1, 0, STANDSTILL, PUMPING, totals())), kept(
        (1, 0, totals()), (1, 300, totals(up=500_000, down=500_000))))
    found = told(one)
    # 50 mL/s for 10 s up, 25 mL/s for 20 s down.
    assert found.water["up"].value == pytest.approx(0.5, rel=1e-6)
    assert found.water["down"].value == pytest.approx(0.5, rel=1e-6)


def test_the_end_of_a_filling_that_no_row_shows_is_as_uncertain_as_what_was_lifted_there():
    # Rows of 20 s either side of it: 55 mL/s on 1 m2 lift 1.1 mm in that time.
    end = (plant.REST_S + plant.FILL_S) // 10
    found = balance_of(plant.journal_of(plant.Errors(), range(end - 60, end + 30)), plant.clock(),
                       plant.DEMO)
    whole = balance_of(plant.journal_of(plant.Errors()), plant.clock(), plant.DEMO)
    stored = found.energies["stored"]
    assert abs(stored.value - whole.energies["stored"].value) > 3 * whole.energies["stored"].u
    assert abs(stored.value - whole.energies["stored"].value) < 2 * stored.u


def test_water_that_moved_in_a_hole_is_nobodys(tmp_path):
    # Without its rows, events and totals an hour of the light is not known at all.
    one = plant.journal_of(plant.Errors(), range(700, 1060))
    keep = ~((one.totals["uptime_ds"] > 69_000) & (one.totals["uptime_ds"] < 107_000))
    one.totals = one.totals[keep]
    one.findings.not_pulled.append("e00001")
    found = balance_of(one, plant.clock(), plant.DEMO)
    assert len(found.stretches_s) == 2
    # A metre square: 27 mL/s for 8000 s less the 3600 s that are not known.
    lost = plant.DOWN_M3_S * (plant.LIGHT_S - 3600) * 1000
    assert found.water["down"].value == pytest.approx(lost, rel=0.01)
    for key in ("discharge_residual", "fill_residual", "rest_change"):
        assert abs(found.water[key].value) < 3 * found.water[key].u + 0.5
    assert np.isfinite(found.covered_s)


def test_a_sliver_that_another_span_reaches_beyond_holds_no_row():
    # Rows with middles at 5, 15 and 25 s; the second span ends behind the third.
    middles_s = np.array([5.0, 15.0, 25.0])
    rowed = Rowed(None, middles_s + 5, np.full(3, 10.0), np.zeros(3), middles_s - 5, middles_s)
    spans = SimpleNamespace(end_s=np.array([10.0, 26.0, 20.0, 30.0]))
    first, end = rowed.within(spans)
    assert (first.tolist(), end.tolist()) == ([0, 1, 3, 3], [1, 3, 3, 3])
