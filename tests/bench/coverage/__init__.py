"""Whether printed intervals hold the truth: days of rigs that are not quite as described.

Of a rig with less (`drawn`, `judged`) the description is off, of rigs with every instrument
(`whole`, `judged_whole`) the meters; `biased` has a meter far off, `monte_carlo` says how
wide an interval should be.
"""
