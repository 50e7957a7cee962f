"""The pull as evidence: how fast the pressure fell, what speed reached the system, what gas the pump carried."""
