"""Pages of log files: sending one, its questions with each way to read it, what was read, withdrawing it."""
