"""Where a whole scenario fits on a site, and how small a rectangle would do."""

from choreo.placement.content import content_of_placement, content_of_rectangle
from choreo.placement.document import placement_text
from choreo.placement.footprint import Footprint, Options, footprint_for, place, smallest
from choreo.placement.on_ground import place_on_ground
from choreo.placement.picture import placement_picture
from choreo.placement.record import Placement, Rectangle

__all__ = [
    "Footprint",
    "Options",
    "Placement",
    "Rectangle",
    "content_of_placement",
    "content_of_rectangle",
    "footprint_for",
    "place",
    "place_on_ground",
    "placement_picture",
    "placement_text",
    "smallest",
]
