"""File models made into records, one module a section of the file: names resolved, defaults filled in."""
