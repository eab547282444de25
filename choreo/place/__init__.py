"""Placement: where on a site a scenario fits."""
