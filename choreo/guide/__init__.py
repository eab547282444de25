"""What travels with the program: the pages of its guide, and ready files to begin with."""

from choreo.guide.pages import PAGES, Page, all_pages, page_of
from choreo.guide.ready import Ready, copies_of, ready_files, ready_named

__all__ = [
    "PAGES",
    "Page",
    "Ready",
    "all_pages",
    "copies_of",
    "page_of",
    "ready_files",
    "ready_named",
]
