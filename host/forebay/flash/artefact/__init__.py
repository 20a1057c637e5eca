"""The keeper as one module: what a slot of a board holds, made from the tree of its sources.

Constants are folded, what nobody uses is left out, and what only the start
uses is let go when the loop begins.  The sources stay the one truth: nothing
here knows what the keeper does, and each step only takes away or renames.
"""

from forebay.flash.artefact.errors import BuildError
from forebay.flash.artefact.flat import Artefact, Plan, flatten
from forebay.flash.artefact.modules import External, Global, Module, Namespace, Tree, walk

__all__ = ["Artefact", "BuildError", "External", "Global", "Module", "Namespace", "Plan", "Tree",
           "flatten", "walk"]
