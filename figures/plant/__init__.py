"""What a plant is: kinds of part, pipe sizes, plant files, and the parametric scheme that makes plants."""

from .check import BadPlant, Refusal
from .file import parse_plant, read_plant, write_plant
from .kinds import KINDS, describe_kinds
from .model import Design, Part, Plant, Run
from .pipe import SIZES, Bore

__all__ = ["KINDS", "SIZES", "BadPlant", "Bore", "Design", "Part", "Plant", "Refusal", "Run", "describe_kinds",
           "parse_plant", "read_plant", "write_plant"]
