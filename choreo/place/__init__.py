"""Where a whole scenario fits on a site, and how small a rectangle would do."""

from choreo.place.content import content_of_placement, content_of_rectangle
from choreo.place.document import placement_text
from choreo.place.on_ground import place_on_ground
from choreo.place.picture import placement_picture
from choreo.place.record import Placement, Rectangle
from choreo.place.staged import Options, Staged, footprint_for, place, smallest

__all__ = [
    "Options",
    "Placement",
    "Rectangle",
    "Staged",
    "content_of_placement",
    "content_of_rectangle",
    "footprint_for",
    "place",
    "place_on_ground",
    "placement_picture",
    "placement_text",
    "smallest",
]
