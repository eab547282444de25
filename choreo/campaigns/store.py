"""The run store: one SQLite file, one row a variant, kept through crashes; several readers, one writer at a time.

What is in it stays: a variant that is asked for again as it was isn't solved again, rows of variants that a campaign no
longer has are left alone.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from choreo.campaigns.records import Row
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.quantities import quoted

# "chor", so that another program's database is never written to.
APPLICATION = 0x63686F72
VERSION = 1
DAMAGED = "it is damaged: cut short, or written over"
INSTEAD = "Name another file, or delete this one first: all is solved anew."
# Another sweep's write is waited for so long (ms).
PATIENCE_MS = 5_000
SCHEMA = """
CREATE TABLE variants (
    name TEXT PRIMARY KEY, text TEXT NOT NULL, asked TEXT NOT NULL, run TEXT NOT NULL, vals TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    verdict TEXT, clear INTEGER, reason TEXT NOT NULL, repair TEXT NOT NULL, figures TEXT NOT NULL, document BLOB
)
"""
# Whose variants they are.
CAMPAIGN = "CREATE TABLE IF NOT EXISTS campaign (title TEXT NOT NULL)"
COLUMNS = "name, asked, run, vals, fingerprint, verdict, clear, reason, repair, figures"


class Store:
    """Rows on disk by the name of their variant. Opening it makes it; closing it leaves one file."""

    def __init__(self, path: Path) -> None:
        """Raises ChoreoError: campaign.store for a file that is no store, or that can't be opened or written."""
        self.path = path
        with self._told():
            self._base = sqlite3.connect(path, timeout=PATIENCE_MS / 1000)
            self._base.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
            made = self._tables > 0  # first: who makes it writes all of it at once
            (known,) = self._base.execute("PRAGMA application_id").fetchone()
            (version,) = self._base.execute("PRAGMA user_version").fetchone()
            if made and (known, version) != (APPLICATION, VERSION):
                raise self._fault(
                    "it is another program's, or another version's", "Name a new file."
                )
            self._base.execute("PRAGMA journal_mode = WAL")
            self._base.execute("PRAGMA synchronous = NORMAL")
            if not made:
                with self._base:
                    self._make()

    @property
    def _tables(self) -> int:
        (tables,) = self._base.execute("SELECT count(*) FROM sqlite_master").fetchone()
        return int(tables)

    def _make(self) -> None:
        """Make the tables, unless another sweep that began at the same time has."""
        self._base.execute("BEGIN IMMEDIATE")
        if not self._tables:
            self._base.execute(f"PRAGMA application_id = {APPLICATION}")
            self._base.execute(f"PRAGMA user_version = {VERSION}")
            self._base.execute(SCHEMA)

    def claim(self, title: str, runs: Collection[str]) -> None:
        """Keep the variants of a campaign here: of a new one, or of one that has the same title or a run of those here.

        Raises ChoreoError: campaign.store where those of another campaign are kept.
        """
        with self._told(), self._base:
            self._base.execute(CAMPAIGN)
            (kept,) = self._base.execute("SELECT title FROM campaign").fetchone() or ("",)
            here = {run for (run,) in self._base.execute("SELECT DISTINCT run FROM variants")}
            if here and kept not in ("", title) and not here & set(runs):
                why = f"it keeps the variants of another campaign, `{quoted(kept)}`"
                raise self._fault(why, "Name another file.")
            if kept != title:
                self._base.execute("DELETE FROM campaign")
                self._base.execute("INSERT INTO campaign VALUES (?)", (title,))

    def known(self) -> dict[str, tuple[str, str]]:
        """Give, by the name of each variant, of which text its answer is, and what was asked."""
        with self._told():
            found = self._base.execute("SELECT name, text, asked FROM variants")
            return {name: (text, asked) for name, text, asked in found}

    def still(self, texts: Mapping[str, str]) -> None:
        """Note by name that an answer is that of another text too. Raises ChoreoError: campaign.store."""
        with self._told(), self._base:
            self._base.executemany(
                "UPDATE variants SET text = ? WHERE name = ?",
                [(text, name) for name, text in texts.items()],
            )

    def put(self, rows: Iterable[tuple[Row, str]]) -> None:
        """Write rows, each with the text that it is of, all of them or none. Raises ChoreoError: campaign.store."""
        with self._told(), self._base:
            self._base.executemany(
                "INSERT OR REPLACE INTO variants VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    (
                        row.name,
                        text,
                        row.asked,
                        row.run,
                        json.dumps(dict(row.values)),
                        row.fingerprint,
                        row.verdict,
                        row.clear,
                        row.reason,
                        row.repair,
                        json.dumps(dict(row.figures)),
                        row.document,
                    )
                    for row, text in rows
                ],
            )

    def row(self, name: str) -> Row | None:
        """Give a variant's row, its document included; None where it isn't there."""
        with self._told():
            one = self._base.execute(
                f"SELECT {COLUMNS}, document FROM variants WHERE name = ?", (name,)
            ).fetchone()
            row = None if one is None else _row(one)
            if row is not None and row.verdict is not None:
                zlib.decompress(row.document)  # only to see that it is whole
        return row

    def rows(self, names: Iterable[str]) -> Iterator[Row]:
        """Give the rows of variants by name, without their documents."""
        for name in names:
            with self._told():
                one = self._base.execute(
                    f"SELECT {COLUMNS}, NULL FROM variants WHERE name = ?", (name,)
                ).fetchone()
                row = None if one is None else _row(one)
            if row is not None:
                yield row

    def close(self) -> None:
        """Close the file; the next one to open it finds all that was put."""
        with self._told():
            self._base.close()

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Tell what SQLite refuses as a fault of the file: locked by another, disk full, no database, damaged."""
        try:
            yield
        except (json.JSONDecodeError, zlib.error):
            raise self._fault(DAMAGED, INSTEAD) from None
        except sqlite3.Error as error:
            words = str(error)
            if "locked" in words:
                instead = (
                    "Wait for the other sweep to end, then run this again: what is done stays."
                )
            elif "full" in words or "I/O" in words:
                instead = "Make room for larger files and run the same again: what is done stays."
            elif "malformed" in words:
                words, instead = DAMAGED, INSTEAD
            else:
                instead = "Name another file."
            raise self._fault(words, instead) from None

    def _fault(self, why: str, instead: str) -> ChoreoError:
        place = Origin(str(self.path), 1, 1)
        return ChoreoError(
            (Finding("campaign.store", "error", place, {"why": why, "instead": instead}),)
        )


def _row(one: tuple[object, ...]) -> Row:
    name, asked, run, values, fingerprint, verdict, clear, reason, repair, figures, document = one
    return Row(
        str(name),
        str(run),
        json.loads(str(values)),
        str(asked),
        str(fingerprint),
        verdict,  # type: ignore[arg-type]
        None if clear is None else bool(clear),
        str(reason),
        str(repair),
        json.loads(str(figures)),
        document if isinstance(document, bytes) else b"",
    )
