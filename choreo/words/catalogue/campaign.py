"""Codes of sweeps: the run store, the processes."""

from choreo.words.catalogue.entry import Entry

CAMPAIGN = {
    "campaign.store": Entry(
        "The run store can't be used",
        "It is locked by another sweep, the disk is full, it is damaged, no store of choreo, or another campaign's.",
        "the run store can't be used: {why}",
        "{instead}",
    ),
    "campaign.worker-lost": Entry(
        "Processes die of the same variants",
        "Something ends them from outside, above all for want of memory.",
        "every process that solves the variants from `{first}` to `{last}` is killed",
        "Look whether memory runs out; fewer `--jobs` need less. What is done stays in the store.",
    ),
    "campaign.no-cluster": Entry(
        "No cluster to solve by",
        "Its package isn't there, or no scheduler answers.",
        "the cluster can't be used: {why}",
        "`pip install 'choreo[cluster]'` gives the package; `dask scheduler` and `dask worker` start one.",
    ),
    "campaign.too-many": Entry(
        "More variants than anybody means by chance",
        "It is asked for again, so that a slip in a list doesn't keep a machine busy for days.",
        "the matrix has {count} variants, more than {most}",
        "Add `--yes` if that many are meant.",
    ),
    "campaign.impossible-value": Entry(
        "A value that makes no scenario, whatever the others are",
        "What the scenario file can't be with this value; where only some combinations of values make no scenario, "
        "their variants are told as faulty and all others are planned.",
        "no variant with `{values}` is a scenario: {what}",
        "{instead} Or leave it out: `without: [{{{values}}}]`.",
    ),
    "campaign.no-map": Entry(
        "Nothing to map",
        "A map has two varied names as its sides.",
        "no run varies two names; there is nothing to map",
        "Leave `--map` out, or vary a second name.",
    ),
}
