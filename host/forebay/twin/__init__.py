"""The twin: a simulated rig round the unmodified keeper.

Every flow and every loss is computed on its own, never as a remainder, so that
the closure of mass and energy is a test of the plant.  The modules import only
`math` and the keeper: they also run on the board's interpreter.
"""
