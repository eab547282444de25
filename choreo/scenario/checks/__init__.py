"""Faults that only the whole scenario shows: programmes that can't be, loops."""
