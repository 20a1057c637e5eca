"""The guided proof test: one person at the rig, the scan's own inputs watched over the link."""

from forebay.prove.record import KIND, Record, newest
from forebay.prove.sitting import ProveError, prove
from forebay.prove.steps import Step, steps_of

__all__ = ["KIND", "ProveError", "Record", "Step", "newest", "prove", "steps_of"]
