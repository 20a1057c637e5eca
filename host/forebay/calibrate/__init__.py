"""Figures of a rig found at the rig itself: measured, fitted with uncertainty, written down.

A task asks a person and reads the board or past days (`tasks`), fits what came of it
(`fitting`), and states each figure beside the one that stood (`outcomes`).  What is found is
written into the description when the person says so, and kept as a record (`writing`).
It must not print; a terminal's drawing and a page are made here as text.
"""
