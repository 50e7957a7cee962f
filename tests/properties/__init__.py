"""Laws that must hold whatever the readings are: units, dialects, and what a larger leak or a longer hold changes."""
