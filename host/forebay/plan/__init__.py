"""What a rig can do, worked out from its description, without a simulated day.

Takes values by "section.key_unit" [SI], as `Rig.plant()` gives them; computes with
keeper.physics alone.  Its parts are data (`answers`), which terminal, document and page
show alike.  Knows nothing of a simulated day and of what a board has measured.
"""
