"""The day on the track: in which order the runs go, when each begins, and what doesn't fit."""
