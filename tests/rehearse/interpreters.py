"""The same rehearsal under this interpreter and under the faster one."""

import json
import os
import shutil
import sys

import pytest

from forebay.rehearse import rehearse
from forebay.rehearse.process import AUTO, FASTER, HERE
from forebay.rehearse.report import document

# What may differ between two runs of the same day: how fast, under what, and where it lies.
OWN = {"simulation_wall_s", "real_time_factor", "interpreter", "time_s", "files"}


def figures(found):
    """Returns all of a document that must not depend on how it was made."""
    if isinstance(found, dict):
        return {key: figures(value) for key, value in found.items() if key not in OWN}
    return [figures(one) for one in found] if isinstance(found, list) else found


def both(planned, hours=24.0):
    """Rehearses under both, asserts that all figures are the same; returns the documents.

    planned: gives the plan for a name of its folder.
    """
    if not shutil.which(FASTER):
        if os.environ.get("CI"):
            pytest.fail(f"{FASTER} is missing (apt install pypy3)")
        pytest.skip(f"{FASTER} is not here")
    found, told = [], []
    for name in (HERE, AUTO):
        done_h = []
        run = rehearse(planned(name), lambda done, _, to=done_h: to.append(done), python=name,
                       hours=hours)
        found.append(document(run))
        told.append(done_h)
    here, faster = found
    assert here["interpreter"].startswith(f"CPython {sys.version_info.major}.")
    assert faster["interpreter"].startswith("PyPy")
    assert faster["interpreter_note"] == here["interpreter_note"] == ""
    assert figures(json.loads(json.dumps(faster))) == figures(json.loads(json.dumps(here)))
    assert told[0] == told[1] == sorted(told[0])
    assert told[0][-1] == hours
    return here, faster
