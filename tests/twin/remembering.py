"""A twin whose keeper remembers over a cut, and the press that lets it begin."""

from keeper.retained_files import RetainedFiles
from tests.twin.rigs import steady, twin

COOL_DOWN = 2000      # scans after which a motor of unknown heat counts as cool
PRESS = 20            # scans that a press of the reset lasts
SUN = steady(800.0)


def remembering(folder, sun=SUN, changes=(), **more):
    """A twin whose keeper remembers; a person has reset what the first start did not know."""
    one = twin(folder, sun, changes, open_memory=lambda: RetainedFiles(f"{folder}/rig"), **more)
    assert one.keeper.lockouts  # nothing was known: locked out
    one.run(COOL_DOWN)
    press(one)
    assert not one.keeper.lockouts
    return one


def press(one):
    """A release, a press and a release of the button."""
    one.run(30)
    one.board.button = 1
    one.run(PRESS)
    one.board.button = 0
    one.run(10)
