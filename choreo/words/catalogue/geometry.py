"""Codes of the geometry layer."""

from choreo.words.catalogue.entry import Entry

GEOMETRY: dict[str, Entry] = {}
