"""Two holds of one system, before and after: what changed."""
