"""What a test sees of a board that was flashed."""



from forebay.flash import firmware, slots
from forebay.flash.job import expected_hash
from forebay.wire import Board

BYTE_CODE = 0x306  # what this interpreter says of itself


def live(board):
    with Board(board.port) as wire:
        return wire.live()


def slot_of(files, slot):
    """Returns path -> contents of all files of a slot."""
    return {path: data for path, data in files.items() if path.startswith(f"/{slot}/")}


def hash_of(files, slot):
    """Returns the hash that a board publishes of the program of a slot."""
    return expected_hash(firmware.Program({slots.PROGRAM: files[f"/{slot}/{slots.PROGRAM}"]}))
