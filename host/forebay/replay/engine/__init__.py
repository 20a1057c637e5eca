"""What of a replay runs in the simulation's own process, on any Python from 3.9.

A keeper, the record that it reads, and the plant that goes on where it departs from it.
"""
