"""Scenarios as records in SI: what the author wrote, in the author's words; how one is made of another."""
