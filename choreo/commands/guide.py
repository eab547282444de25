"""choreo guide: the pages that travel with the program, in the terminal."""

from __future__ import annotations

import click


@click.command("guide", short_help="Show the guide: a tour, the file format, guarantees, speed.")
@click.argument("page", required=False)
@click.option("--plain", is_flag=True, help="Print the page's Markdown source, as in a pipe.")
@click.option("--json", "as_json", is_flag=True, help="List the pages as one JSON document.")
@click.option(
    "--width", type=click.IntRange(40, 400), help="Columns to use (default: the terminal's)."
)
def command(page: str | None, plain: bool, as_json: bool, width: int | None) -> None:
    """Show a PAGE of the guide, or list its pages. No network is needed.

    On a terminal a page is set for reading, and shown by a pager; in a pipe it is Markdown.

    \b
    Examples:
      choreo guide
      choreo guide format
      choreo guide tour --plain > tour.md
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.guides import print_list, show_page

    if as_json and page is not None:
        raise click.UsageError("--json lists the pages: leave out PAGE.")
    if page is None:
        print_list(as_json=as_json, width=width)
        return
    with faults_reported(as_json=False):
        show_page(page, plain=plain, width=width)
