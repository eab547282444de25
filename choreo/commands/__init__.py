"""The command line: one thin file a command; heavy imports happen inside the command that needs them."""

from choreo.commands.entry import main

__all__ = ["main"]
