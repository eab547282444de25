"""Ready files: all are listed, each copy means what its original means, nothing is ever overwritten."""

import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from choreo.commands.entry import group
from choreo.export import files
from choreo.guide.ready import Ready, ready_files
from choreo.scenario import load, load_site

BUNDLE = Path(__file__).parents[2] / "scenarios"
READY = ready_files()
SCENARIOS = [one for one in READY if "/" not in one.name]
SITES = [one for one in READY if one.name.startswith("sites/")]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def choreo(*arguments: str) -> Result:
    """Run the command."""
    return CliRunner().invoke(group, arguments, prog_name="choreo", catch_exceptions=False)


def files_in(folder: Path) -> list[str]:
    """Every file and folder below a folder."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def test_every_bundled_file_is_ready_under_its_own_name_and_title() -> None:
    there = {
        *BUNDLE.glob("*.yaml"),
        *BUNDLE.glob("impossible/*.yaml"),
        *BUNDLE.glob("sites/*.yaml"),
        *BUNDLE.glob("circuits/*.yaml"),
    }
    there |= set(BUNDLE.glob("fleet/*.yaml"))
    assert {BUNDLE / one.file for one in READY} == there
    assert len({one.name for one in READY}) == len(READY)
    titles = {one.name: load(BUNDLE / one.file).title for one in SCENARIOS}
    assert {one.name: one.title for one in SCENARIOS} == titles
    assert min(len(one.purpose) for one in READY) > 20
    assert {one.group for one in READY if one.file.parts[0] == "impossible"} == {"Impossible"}


def test_list_shows_every_file_below_its_group_and_fits() -> None:
    shown = choreo("new", "--width", "80").output
    assert max(len(line) for line in shown.splitlines()) <= 80
    lines = shown.splitlines()
    shown_in, group = {}, ""
    for line in lines[1:]:
        if line and not line.startswith(" "):
            group = line
        elif line.startswith("  ") and not line.startswith("   "):
            shown_in[line.strip()] = group
    assert shown_in == {one.name: one.group for one in READY}


def test_json_list_has_the_same() -> None:
    told = json.loads(choreo("new", "--json").output)["ready"]
    assert [one["name"] for one in told] == [one.name for one in READY]
    assert set(told[0]) == {"name", "group", "title", "purpose"}


@pytest.mark.parametrize("ready", SCENARIOS, ids=lambda one: one.name)
def test_copy_of_a_scenario_means_what_the_original_means(ready: Ready, here: Path) -> None:
    done = choreo("new", ready.name, "-o", "deeper/mine.yaml")
    assert done.exit_code == 0, done.output
    copied, original = load(here / "deeper" / "mine.yaml"), load(BUNDLE / ready.file)
    told, meant = copied.meaning(), original.meaning()
    assert told == meant
    folder = (here / "deeper").resolve()
    read = [Path(file).resolve() for file in copied.source_files]
    assert [file for file in read if not file.is_relative_to(folder)] == []


@pytest.mark.parametrize("ready", SITES, ids=lambda one: one.name)
def test_copy_of_a_site_means_what_the_original_means(ready: Ready, here: Path) -> None:
    assert choreo("new", ready.name).exit_code == 0
    copied, original = load_site(here / ready.file.name), load_site(BUNDLE / ready.file)
    assert copied.meaning() == original.meaning()


def test_a_second_copy_shares_what_is_there(here: Path) -> None:
    assert choreo("new", "walker-nearside").exit_code == 0
    done = choreo("new", "cut-in")
    assert done.exit_code == 0
    assert "sites/strip.yaml was there already, the same" in done.output
    assert files_in(here) == [
        "cut-in.yaml",
        "fleet",
        "fleet/invented.yaml",
        "sites",
        "sites/strip.yaml",
        "walker-nearside.yaml",
    ]


def test_a_file_that_is_there_is_never_overwritten(here: Path) -> None:
    (here / "walker-nearside.yaml").write_text("mine")
    done = choreo("new", "walker-nearside")
    assert done.exit_code == 2
    assert "`walker-nearside.yaml` is there already" in done.output
    assert "-o FILE" in done.output
    assert files_in(here) == ["walker-nearside.yaml"]
    assert (here / "walker-nearside.yaml").read_text() == "mine"


def test_a_link_to_nowhere_is_not_written_through(here: Path) -> None:
    (here / "walker-nearside.yaml").symlink_to(here / "elsewhere.yaml")
    assert choreo("new", "walker-nearside").exit_code == 2
    assert files_in(here) == ["walker-nearside.yaml"]


def test_another_site_in_the_way_stops_the_copy(here: Path) -> None:
    (here / "sites").mkdir()
    (here / "sites" / "strip.yaml").write_text("choreo site: 1\n")
    done = choreo("new", "walker-nearside", "-o", "mine.yaml")
    assert done.exit_code == 2
    assert "`sites/strip.yaml` is there already, and it is not the one" in done.output
    assert "another folder" in done.output
    assert files_in(here) == ["sites", "sites/strip.yaml"]


def test_a_write_that_fails_leaves_nothing_behind(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_paths: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_scratch", full)
    done = choreo("new", "walker-nearside", "-o", "a/b/mine.yaml")
    assert done.exit_code == 2
    assert "No space left on device" in done.output
    assert files_in(here) == []


def test_a_folder_that_cannot_be_made_is_told(here: Path) -> None:
    (here / "sites").write_text("a file")
    done = choreo("new", "walker-nearside", "-o", "mine.yaml")
    assert done.exit_code == 2
    assert "Traceback" not in done.output
    assert files_in(here) == ["sites"]


def test_a_folder_takes_the_copy_by_its_own_name(here: Path) -> None:
    (here / "trials").mkdir()
    assert choreo("new", "cut-in", "-o", "trials").exit_code == 0
    assert (here / "trials" / "cut-in.yaml").exists()


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("junction", "junction-crossing"),
        ("l-pad", "sites/l-pad"),
        ("walker-near", "walker-nearside"),
        ("Cut-In.yaml", "cut-in"),
        ("flank", "motorcycle-into-flank"),
    ],
)
def test_a_part_of_a_name_will_do(word: str, name: str, here: Path) -> None:
    told = json.loads(choreo("new", word, "--json").output)
    assert told["name"] == name
    assert told["written"][0] == told["file"]
    assert (here / told["file"]).exists()
    assert told["kept"] == []


def test_the_whole_name_of_a_file_in_a_folder_is_that_file(here: Path) -> None:
    """`circuits/eight-on-stone-setts` has the word inside, `circuits/stone-setts` is of that name."""
    assert (
        json.loads(choreo("new", "stone-setts", "--json").output)["name"] == "circuits/stone-setts"
    )


def test_a_part_of_several_names_lists_them(here: Path) -> None:
    done = choreo("new", "braking-lead")
    assert done.exit_code == 2
    assert "fits several" in done.output
    assert "`braking-lead-bumper-gap`" in done.output
    assert "`braking-lead-time-gap`" in done.output
    assert files_in(here) == []
    # One that is the beginning of another's name can still be had.
    assert choreo("new", "braking-lead-bumper-gap").exit_code == 0


@pytest.mark.parametrize("word", ["walkre-nearside", "", "no such thing at all"])
def test_an_unknown_name_is_told_where_to_look(word: str, here: Path) -> None:
    done = choreo("new", word)
    assert done.exit_code == 2
    assert ("Did you mean `walker-nearside`?" in done.output) == (word == "walkre-nearside")
    assert "`choreo new` lists what there is." in done.output
    assert files_in(here) == []


def test_faults_are_a_document_too(here: Path) -> None:
    told = json.loads(choreo("new", "braking-lead", "--json").output)
    assert [one["code"] for one in told["faults"]] == ["guide.several-ready"]
    assert files_in(here) == []


@pytest.mark.parametrize("target", ["-", os.devnull])
def test_a_copy_goes_to_files_only(target: str, here: Path) -> None:
    done = choreo("new", "cut-in", "-o", target)
    assert done.exit_code == 2
    assert files_in(here) == []


def test_an_output_without_a_name_is_refused() -> None:
    done = choreo("new", "-o", "mine.yaml")
    assert done.exit_code == 2
    assert "`choreo new` lists what there is" in done.output
