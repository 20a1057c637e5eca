"""The keeper's modules as a board has them: thin files that take their names from the artefact.

A board holds one module; scripts of tests ask for `keeper.scan` and the like.
Each such file hands out what the artefact has under the module's names, and
what was worked out beforehand: constants, and functions of nothing but these.
What else the artefact leaves out is not there.
"""

import ast
import functools

from forebay.flash import firmware
from forebay.flash.artefact import Global, Namespace
from forebay.flash.artefact.folding import Folding
from forebay.flash.artefact.values import NOTHING, Values, is_literal, written

# What the artefact asks of the chip's library while it is imported; where a test has a chip
# of its own, that one is taken.
LIBRARY = {
    "/machine.py": b"class Pin:\n    pass\nADC = I2C = PWM = UART = WDT = Pin\n",
    "/onewire.py": b"class OneWire:\n    pass\n",
    "/rp2.py": b"class PIO:\n    OUT_LOW = 0\ndef asm_pio(**_):\n    return lambda f: f\n",
}
BYTE_CODE = 6  # `sys.implementation._mpy` of a MicroPython 1.29 without code of its processor
PHYSICS = "keeper.physics"


@functools.cache
def files() -> dict[str, bytes]:
    """Return path on the board -> contents: the artefact, and a file for each module in it."""
    tree = firmware.tree()
    values = Values(tree)
    folding = Folding(tree, values)
    artefact = firmware.artefact(native=False)
    program = firmware.program(BYTE_CODE).files[firmware.PROGRAM_FILE]
    found = {**LIBRARY, f"/{firmware.PROGRAM_FILE}": program}
    for module in tree.modules.values():
        if module.name.startswith(PHYSICS) or all(
                isinstance(node, ast.Assign | ast.Expr) for node in module.tree.body):
            continue  # shared with the host, or nothing but plain data: as they are
        lines = []
        for name, meaning in module.names.items():
            there = tree.meaning(meaning)
            if isinstance(there, Namespace):
                lines.append(f"import {there.module} as {name}")
                continue
            flat = artefact.names.get((there.module, there.name))
            value = values.of(there) if isinstance(there, Global) else NOTHING
            if flat:
                lines.append(f"from {firmware.PROGRAM} import {flat} as {name}")
            elif value is not NOTHING and is_literal(value):
                lines.append(f"{name} = {written(value)}")
            elif isinstance(there, Global) and there.module == module.name and folding.is_pure(
                    there):
                definition = module.definitions[name]
                lines.append(ast.get_source_segment(module.text, definition) or "")
            elif isinstance(there, Global) and folding.is_pure(there):
                lines.append(f"from {there.module} import {there.name} as {name}")
        path = module.path.relative_to(tree.top).as_posix()
        found[f"/{path}"] = "\n".join([*lines, ""]).encode()
    return found
