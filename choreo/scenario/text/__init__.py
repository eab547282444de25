"""Texts as plain data, with the place of every value; nothing of what they mean."""
