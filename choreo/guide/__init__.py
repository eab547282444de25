"""What travels with the program: the pages of its guide, and ready files to begin with."""

from choreo.guide.pages import PAGES, Page, page_of, pages
from choreo.guide.ready import Ready, copies_of, ready_files, ready_named

__all__ = ["PAGES", "Page", "Ready", "copies_of", "page_of", "pages", "ready_files", "ready_named"]
