"""Campaigns: a matrix of scenarios, every variant of it planned and verified, and kept."""
