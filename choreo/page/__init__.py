"""A plan as one file for a browser: the page that plays it, and the run sheet that is printed."""

from choreo.page.campaign import Planned, Shown, campaign_page, campaign_sheets
from choreo.page.document import page_of, sheet_of
from choreo.page.share import share_page

__all__ = [
    "Planned",
    "Shown",
    "campaign_page",
    "campaign_sheets",
    "page_of",
    "share_page",
    "sheet_of",
]
