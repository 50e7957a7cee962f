"""The commands: each parses, calls `decay`, prints, and exits."""
