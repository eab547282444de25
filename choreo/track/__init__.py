"""Planned motion: where a mover of a plan is and how fast, as planned or leaving its plan at an instant."""
