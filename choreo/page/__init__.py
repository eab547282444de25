"""A plan as one file for a browser: the page that plays it, and the run sheet that is printed."""

from choreo.page.document import page_of, sheet_of

__all__ = ["page_of", "sheet_of"]
