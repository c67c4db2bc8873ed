"""The command line called in this process, a case already solved, a made-up run to draw."""

from __future__ import annotations

import sys

import pytest

from platestack.fea.app import cli
from platestack.fea.jobs import run


@pytest.fixture
def call(monkeypatch, capsys, tmp_path):
    """Call the command line in an empty directory: exit code, output, errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(cli.signal, "signal", lambda *_: None)

    def do(*words: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["platestack", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        captured = capsys.readouterr()
        assert "Traceback" not in captured.out + captured.err
        return int(left.value.code or 0), captured.out, captured.err

    return do


@pytest.fixture
def solved(monkeypatch, small_solution):
    """Let the case be solved already."""
    monkeypatch.setattr(run, "analyse", lambda case, report: small_solution)


@pytest.fixture(scope="session")
def sampled():
    """Grid and scene of a quarter of the made-up run."""
    # Here, as loading pyvista takes long and most modules do without.
    from sample_run import sample

    from platestack.fea.pictures import scene_info

    grid, summary = sample(size=0.12)
    return grid, scene_info(summary)
