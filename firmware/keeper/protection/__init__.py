"""What protects: derived values, the table of elements, its judging, lockouts."""
