"""What was measured on the day, and what it makes of a plan."""
