"""What the water does: steady flow, heat and operation of any plant, in plain numpy."""

from .batch import Flows, sweep
from .network import Flow, Prepared
from .solution import Solution, solve
from .state import NoSolution, State
from .water import Water, water

__all__ = ["Flow", "Flows", "NoSolution", "Prepared", "Solution", "State", "Water", "solve", "sweep",
           "water"]
