"""Gauges, loggers and rises that misbehave as real ones do, of known truth, judged from the text of the log."""
