"""The search for what is open, loose, short or crossed in a rig's wiring, with a hand meter."""
