"""Pages drawn from the code itself, so that they cannot fall behind it."""
