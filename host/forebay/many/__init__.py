"""Many rigs at once: the balance of each rig and day over a store of exported files.

Owns the store that an export makes for it, how a journal is read back from there, how the work
is spread over processes or machines, and the page that puts rigs side by side.
"""
