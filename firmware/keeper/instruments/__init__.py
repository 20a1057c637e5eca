"""What judges what instruments say, before protection does: no chip is known here.

Contract: pins, bus and line are given, and are all that a module asks.  Each
gives integers in the unit of its channel, or `INVALID` + one of
`keeper.channels.REASONS`.  What runs inside a scan allocates nothing and says
how long it may block; what is slow works in steps between scans.  The twin
runs the same code where wires of its rig fail.
"""
