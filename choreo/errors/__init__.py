"""What happens when nothing is perfect: sources of error, runs with them, and what they say."""
