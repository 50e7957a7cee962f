"""Audits practice across many logs: every file judged, one row a hold, and what only many jobs show together."""
