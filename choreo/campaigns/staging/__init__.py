"""Few stagings: which variants of a campaign run from the same start marks."""
