"""What touches the chip: one module a kind of sensor or actuator.

Contract: a driver gives integers in the unit of its channel, or
`INVALID` + one of `keeper.channels.REASONS`.  What runs inside a scan
allocates nothing and says how long it may block; what is slow (1-Wire,
recovery of a bus) works in steps between scans.  No driver knows why a value
is wanted, and none takes a pin that its board did not give it.
"""
