"""Whether a day's judgement is right: days of rigs that are not quite as described, some broken."""
