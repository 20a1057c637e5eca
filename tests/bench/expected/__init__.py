"""Whether a day's judgement is right: days of rigs not quite as described, some broken."""
