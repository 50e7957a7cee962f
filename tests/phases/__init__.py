"""Where pumping ends and the hold begins, scored in seconds."""
