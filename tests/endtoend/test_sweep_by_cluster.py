"""Workers of a dask.distributed scheduler solve the same rows, one of them killed in the middle."""

import os
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from distributed import LocalCluster

from choreo.campaigns import cluster, sweeping
from choreo.campaigns.documents import to_csv
from choreo.campaigns.reading import load_campaign
from choreo.campaigns.records import Campaign
from choreo.campaigns.solving import Asked
from choreo.campaigns.sweeping import by_processes, sweep
from choreo.words import ChoreoError

SCENARIOS = Path(__file__).parents[2] / "scenarios"

# Its own event loop and sockets are its business.
pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture
def campaign(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Campaign:
    """Eight variants in four batches."""
    monkeypatch.setattr(sweeping, "BATCH", 2)
    for name in ("stationary-target.yaml", "sites", "fleet"):
        one = SCENARIOS / name
        (shutil.copytree if one.is_dir() else shutil.copy)(one, tmp_path / name)
    file = tmp_path / "week.yaml"
    file.write_text(
        "choreo campaign: 1\ntitle: eight\nruns:\n  stopped:\n    scenario: stationary-target.yaml\n"
        "    vary: {test_speed: 20..90 km/h by 10 km/h}\n",
        encoding="utf-8",
    )
    return load_campaign(file)


@pytest.fixture
def workers() -> Iterator[LocalCluster]:
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, memory_limit=None
    ) as workers:
        yield workers


def test_a_cluster_gives_the_same_rows_though_a_worker_is_killed(
    campaign: Campaign, workers: LocalCluster
) -> None:
    killed = []

    def tell(done: int, _of: int) -> None:
        if not killed:
            pid = next(iter(workers.workers.values())).pid
            killed.append(pid)
            os.kill(pid, signal.SIGKILL)
        assert done

    found = sweep(campaign, Asked(), cluster.by_cluster(workers.scheduler_address), tell=tell)
    assert len(killed) == 1
    assert to_csv(found) == to_csv(sweep(campaign, Asked(), by_processes(1)))


def test_nobody_at_the_address_is_told(campaign: Campaign, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "PATIENCE_S", 0.2)
    with pytest.raises(ChoreoError) as caught:
        sweep(campaign, Asked(), cluster.by_cluster("tcp://127.0.0.1:1"))
    assert caught.value.findings[0].code == "campaign.no-cluster"
