"""A scan costs no more than the board has time for, in every state."""

from keeper import modes
from tests.bench import scan_cost


def test_a_scan_is_bounded_in_every_state():
    found = scan_cost.measured(blocks=900)
    assert set(found) == set(range(len(modes.STATES)))
    for state, (_, mean, most, _, _) in found.items():
        assert mean <= scan_cost.MEAN_BYTECODES, modes.STATES[state][0]
        assert most <= scan_cost.MOST_BYTECODES, modes.STATES[state][0]
