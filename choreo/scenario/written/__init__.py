"""Models of the files as written: keys, units, choices; they make the JSON Schema and the first faults."""
