"""What is written down: rows, blocks, summaries and events in segments on flash."""
