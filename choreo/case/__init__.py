"""A case: a scenario with all that is worked out of it once, its answer and the verdict that holds."""
