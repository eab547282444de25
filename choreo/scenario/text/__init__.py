"""Text of scenario files with the place of every value; nothing of what it means."""
