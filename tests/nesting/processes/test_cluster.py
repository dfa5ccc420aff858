"""The same search on a cluster of processes as in this one."""

import builtins
import json

import numpy as np
import pytest
from distributed import LocalCluster
from shapely.geometry import Polygon, box

from nesting import cli
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds, MaxSeconds
from nesting.errors import ClusterError
from nesting.need import Need
from nesting.outline import Outline
from nesting.processes.cluster import cluster_at
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board

PROJECT = """\
version: 1
name: Strakes
unit: mm
stock:
  - {board: D-01, species: teak, thickness: 30, length: 2400, width: 120}
  - {board: D-02, species: teak, thickness: 30, length: 2000, width: 120}
parts:
  - {part: strake, family: ceiling strake, species: teak, quantity: 3,
     shape: {length: 1100, width: 90, thickness: 22, frame_spacing: 250}}
"""


@pytest.fixture(scope="module")
def address():
    cluster = LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0",
        host="127.0.0.1",
    )  # fmt: skip
    with cluster:
        yield cluster.scheduler_address


@pytest.fixture
def job():
    """Wedges and strips of which no bound proves the best plan, so that the search goes on."""
    rng = np.random.default_rng(4)
    boards = [Board(f"B{i}", box(0, 0, x, 110), 30, "oak") for i, x in enumerate((900, 1000, 1300))]
    shapes = [
        Polygon([(0, 0), (x, 0), (x, 60), (0, 30)]) for x in rng.uniform(150, 600, 7).round(1)
    ]
    needs = [Need(f"P{i}", "any", Outline(shape, 20), ("oak",)) for i, shape in enumerate(shapes)]
    return needs, boards, Rules()


def test_plan_from_a_cluster_is_the_plan_from_here(address, job):
    with cluster_at(address) as (executor, workers):
        there = pack(*job, stop=MaxRounds(22), seed=3, workers=workers, executor=executor)
    assert workers == 2
    assert there == pack(*job, stop=MaxRounds(22), seed=3)
    assert check_plan(there, job[0], job[2]) == ()


def test_cluster_searches_under_a_time_limit_and_may_be_used_again(address, job):
    with cluster_at(address) as (executor, workers):
        for _ in range(2):
            plan = pack(*job, stop=MaxSeconds(0.5), workers=workers, executor=executor)
            assert check_plan(plan, job[0], job[2]) == ()


def test_command_line_takes_the_address_of_a_cluster(address, tmp_path, capsys):
    path = tmp_path / "strakes.yaml"
    path.write_text(PROJECT)
    arguments = ["nest", str(path), "--rounds", "0", "--json", "--cluster", address]
    assert cli.main([*arguments, "-o", str(tmp_path / "there")]) == cli.ALL_PLACED
    assert json.loads(capsys.readouterr().out)["parts_placed"] == 3


def test_scheduler_that_does_not_answer_is_named(monkeypatch):
    monkeypatch.setattr("nesting.processes.cluster.ANSWER_SECONDS", 0.2)
    silent = pytest.raises(ClusterError, match=r"no scheduler answers at tcp://127.0.0.1:9")
    with silent, cluster_at("tcp://127.0.0.1:9"):
        pass


def test_missing_library_is_a_sentence(monkeypatch):
    real = builtins.__import__

    def without(name, *given, **more):
        if name == "distributed":
            raise ImportError(name)
        return real(name, *given, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    missing = pytest.raises(ClusterError, match=r"pip install 'salvage-nest\[cluster\]'")
    with missing, cluster_at("tcp://127.0.0.1:9"):
        pass
