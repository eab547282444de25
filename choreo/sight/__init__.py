"""Sight lines: how much of a body an eye sees past others, when first, and where an obstacle must stand for it."""
