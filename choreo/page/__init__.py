"""A plan as one file for a browser: the page that plays it, and the run sheet that is printed."""

from choreo.page.campaign import Planned, Shown, campaign_page, campaign_sheets
from choreo.page.comparing import Drawn, compared_page, off_path
from choreo.page.document import page_of, sheet_of
from choreo.page.share import share_page

__all__ = [
    "Drawn",
    "Planned",
    "Shown",
    "campaign_page",
    "campaign_sheets",
    "compared_page",
    "off_path",
    "page_of",
    "share_page",
    "sheet_of",
]
