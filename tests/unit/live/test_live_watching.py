"""Saves are seen once, when the file stands still; what a faulty file names is watched too."""

from __future__ import annotations

import os
from pathlib import Path

from choreo.live.naming import files_named
from choreo.live.watching import GONE_LOOKS, Watch


def _watch(tmp_path: Path) -> tuple[Path, Watch]:
    file = tmp_path / "a.yaml"
    file.write_text("one")
    return file, Watch([str(file), str(tmp_path / "site.yaml")])


def _looks(watch: Watch, count: int) -> list[bool]:
    return [watch.changed() for _ in range(count)]


def test_a_save_is_told_once(tmp_path: Path) -> None:
    file, watch = _watch(tmp_path)
    assert _looks(watch, 3) == [False, False, False]
    file.write_text("two")
    assert _looks(watch, 4) == [False, True, False, False]
    # Saved as it was: there is nothing to plan.
    file.write_text("two")
    os.utime(file, ns=(1, 1))
    assert _looks(watch, 4) == [False] * 4


def test_a_file_that_is_being_written_is_waited_for(tmp_path: Path) -> None:
    file, watch = _watch(tmp_path)
    told = []
    for text in ("", "tw", "two"):
        file.write_text(text)
        told += _looks(watch, 1)
    assert told == [False, False, False]
    assert _looks(watch, 2) == [True, False]


def test_a_file_that_stays_empty_is_told(tmp_path: Path) -> None:
    file, watch = _watch(tmp_path)
    file.write_text("")
    assert _looks(watch, GONE_LOOKS - 1) == [False] * (GONE_LOOKS - 1)
    assert _looks(watch, 3) == [False, True, False]


def test_same_size_at_the_same_time_is_seen(tmp_path: Path) -> None:
    file, watch = _watch(tmp_path)
    about = file.stat()
    file.write_text("two")
    os.utime(file, ns=(about.st_atime_ns, about.st_mtime_ns))
    assert _looks(watch, 2) == [False, True]


def test_a_file_that_is_replaced_is_not_gone_and_one_that_is_gone_is_told(tmp_path: Path) -> None:
    file, watch = _watch(tmp_path)
    file.unlink()
    assert _looks(watch, 3) == [False] * 3
    file.write_text("one")
    assert _looks(watch, 3) == [False] * 3
    file.unlink()
    assert _looks(watch, GONE_LOOKS + 1)[-2:] == [False, True]
    file.write_text("one")
    assert _looks(watch, 2) == [False, True]
    # So is one that was never there.
    (tmp_path / "site.yaml").write_text("site")
    assert _looks(watch, 2) == [False, True]


def test_what_is_watched_may_change(tmp_path: Path) -> None:
    file, watch = _watch(tmp_path)
    other = tmp_path / "other.yaml"
    watch.follow([str(file), str(other)])
    assert watch.files == (str(file), str(other))
    (tmp_path / "site.yaml").write_text("site")
    assert _looks(watch, 2) == [False, False]
    other.write_text("other")
    assert _looks(watch, 2) == [False, True]


def test_names_are_found_in_files_that_can_be_no_scenario(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text("site: sites/pad.yaml\nmovers: 7\nfleet: [fleet/cars.yaml]\n")
    (tmp_path / "sites").mkdir()
    (tmp_path / "sites" / "pad.yaml").write_text("area: {geojson: pad.geojson}\nn: [a.yaml]\n")
    assert files_named(file) == {
        str(tmp_path / name)
        for name in (
            "a.yaml", "sites/pad.yaml", "fleet/cars.yaml", "sites/pad.geojson", "sites/a.yaml",
        )
    }  # fmt: skip
    file.write_text("site: [broken")
    assert files_named(file) == {str(file)}
    # A file that names itself ends, too.
    file.write_text("site: a.yaml")
    assert files_named(file) == {str(file)}
