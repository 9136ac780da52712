"""The search for the way of the water comes to an end, whatever three-way valves it passes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

CODE = """
from figures.physics.operation import Operator
from figures.plant.scheme import Scheme
scheme = Scheme.random(731, control="DHW on the system loop", boilers=(1, 2, 3))
jobs = Operator(scheme.plant()).jobs
assert all(set(ways) == set(jobs.ways["B1"]) for ways in jobs.ways.values())
assert "VD" not in jobs.job
"""


def test_valves_at_both_ends_of_a_link_do_not_send_the_search_round_for_ever():
    """A plant with a diverting valve and a mixing valve in a row; in a process of its own, which can be stopped."""
    subprocess.run([sys.executable, "-c", CODE], check=True, timeout=60, cwd=Path(__file__).parents[3])
