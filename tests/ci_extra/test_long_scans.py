"""The stories of the scan, twice as long as the suite tells them: what chance adds differs."""

import pytest

from tests.micropython.test_scan import SEEDS, check_story

BLOCKS = 5000     # of 20 scans


@pytest.mark.parametrize("seed", SEEDS)
def test_a_hundred_thousand_scans_allocate_nothing_and_post_the_same_events(run_micropython, seed):
    check_story(run_micropython, seed, BLOCKS)
