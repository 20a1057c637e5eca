"""The rig's hardware: its circuit as data, what machine checks say of it, its sheets.

The tables are those of the folder `hardware`; this room reads them, fits them to a rig,
works out values and duties, and judges.  It draws nothing itself but asks forebay.docs.
"""
