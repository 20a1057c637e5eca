"""What a rig can do before it runs: where the power goes step by step, and what follows.

Takes values by "section.key_unit" [SI], as `Rig.plant()` gives them; computes with
keeper.physics alone.  Knows nothing of pages, terminals and the twin.
"""
