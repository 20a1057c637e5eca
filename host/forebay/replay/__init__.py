"""A recorded span through the unmodified keeper again: `forebay rehearse --replay`.

While the keeper does what the recorded one did, it reads what was recorded; from where it
departs, the simulated rig goes on from there.  Here a shelf's journal becomes the record that
`engine` plays, and what came of it is compared.
"""
