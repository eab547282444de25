"""What an answer says and how a terminal shows it."""

from choreo.report.content import Content, content_of
from choreo.report.terminal import print_content, print_section

__all__ = ["Content", "content_of", "print_content", "print_section"]
