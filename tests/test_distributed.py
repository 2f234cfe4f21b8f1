"""Sweeps on a real cluster of this machine; only where the extra 'distributed' is installed."""

import pytest

distributed = pytest.importorskip("distributed")

from test_sweeps import BIT, BOARD, CARVING, GRID, OTHER, cs  # noqa: E402

pytestmark = pytest.mark.filterwarnings("ignore")  # whatever the engine's own packages warn of


def test_a_cluster_gives_the_same_bits():
    ask = {"bit": {"old": BIT, "new": OTHER}, **GRID, "pitch": 0.5}
    serial = cs.sweep(CARVING, BOARD, **ask, workers=1)
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        found = cs.sweep(CARVING, BOARD, **ask, executor=client.get_executor())
    assert repr(found.cells) == repr(serial.cells)
