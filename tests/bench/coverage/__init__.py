"""Whether printed intervals hold the truth: days of rigs that are not quite as described."""
