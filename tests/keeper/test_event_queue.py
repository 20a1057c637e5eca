"""The queue of events keeps each with the values of its own scan."""

from hypothesis import given
from hypothesis import strategies as st

from keeper.events import EventQueue

SLOTS, WIDTH = 4, 2
# How many events a scan posts, and how many the journal takes before the next scan.
LIVES = st.lists(st.tuples(st.integers(0, SLOTS + 1), st.integers(0, SLOTS)), max_size=40)


@given(LIVES)
def test_each_event_has_the_values_of_its_scan_and_the_first_ones_are_kept(life):
    values = [0, 0, 7]
    queue = EventQueue(SLOTS, values, WIDTH)
    model: list[tuple[int, int, int, list[int]]] = []
    lost = 0
    for scan, (posted, taken) in enumerate(life):
        values[:WIDTH] = scan, -scan
        queue.begin_scan(2, scan)
        for code in range(posted):
            queue.post(code, 0, 0)
            if len(model) < SLOTS:
                model.append((code, 2, scan, values[:WIDTH]))
            else:
                lost += 1
        for _ in range(min(taken, queue.count)):
            slot = queue.oldest()
            assert (slot[0], slot[3], slot[4], list(slot[5])) == model.pop(0)
            queue.drop()
    assert queue.count == len(model)
    assert queue.lost == lost


def test_events_of_one_scan_share_one_copy():
    queue = EventQueue(SLOTS, [1, 2], WIDTH)
    queue.post(1, 0, 0)
    first = queue.oldest()[5]
    queue.post(2, 0, 0)
    queue.drop()
    assert queue.oldest()[5] is first
