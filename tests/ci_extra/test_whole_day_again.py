"""A whole day under both interpreters: CPython alone takes minutes for it."""

from forebay.rehearse import plan
from tests.rehearse.interpreters import both


def test_every_figure_of_a_whole_day_is_the_same_under_cpython_and_under_pypy(tmp_path):
    faults = ["cloud-edge@09:00", "power-cut@15:30", "load-lost@20:00"]
    here, _ = both(lambda name: plan(faults=faults, out=tmp_path / name))
    assert here["scans"] < 864000  # the board was without power for a while
    assert [one["first"] for one in here["faults"]][2] == "59-GEN"
