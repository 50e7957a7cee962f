"""Several holds of one system: one leak for all of them, a warm one, the rig alone, the test that would settle it."""
