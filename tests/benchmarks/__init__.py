"""Speed against yardsticks that are measured in the same run; by hand, never among the ordinary tests."""
