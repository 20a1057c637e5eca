"""Full sun on a panel too hot for its start voltage, on the twin: told, not silent."""

from keeper import events as ev
from tests.twin.rigs import steady, twin

HOT_CELL_DEGC = 75.0        # at 33 degC of air and full sun


def test_a_rig_that_idles_in_full_heat_says_so(tmp_path, monkeypatch):
    one = twin(tmp_path, steady(950.0, HOT_CELL_DEGC, 33.0))
    sequence = one.keeper.core.sequence
    one.run(50)
    open_mV = one.keeper.values[0]
    sequence.start_mV = open_mV + 500
    sequence.unused_sun.near_mV = 9 * sequence.start_mV // 10
    posted = []
    post = one.keeper.events.post
    monkeypatch.setattr(one.keeper.events, "post",
                        lambda *event: (posted.append(event), post(*event)))
    one.run(2 * 18000)
    (said,) = [event for event in posted if event[0] == ev.SUN_UNUSED]
    assert abs(said[2] - open_mV) < 300
    assert one.plant.up.volume_m3 == 0
