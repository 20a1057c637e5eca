"""A recorded span through the unmodified keeper again: `forebay rehearse --replay`.

While the keeper does what the recorded one did, it reads what was recorded; from where it
departs, the simulated rig goes on from there.  Two halves: what runs in the simulation's own
process, on any Python from 3.9 (`following`, `aligning`, `modelled`, `played`); and what makes
its job of a shelf's journal, and a comparison of what came of it (the others).
"""
