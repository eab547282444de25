"""Faults that only the whole scenario shows: references to what isn't there or doesn't fit, loops."""
