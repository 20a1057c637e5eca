"""Physics of a small pumped-water store: pure functions, and machines composed of them, in SI.

Each module stands alone (no names are gathered here: the board's memory is
small), imports only `math` and its neighbours, and runs unmodified on CPython
and MicroPython.  Every public function states its equation, the unit and range
of each argument, its source and a worked example; an argument outside its range
raises ValueError.
"""
