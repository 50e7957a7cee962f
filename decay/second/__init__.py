"""After a hold that left a leak open: which test would settle it, what it costs, and how often it does."""
