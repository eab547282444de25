"""Written models made into records: names resolved, defaults filled in."""
