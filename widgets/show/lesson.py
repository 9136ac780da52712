"""What a lesson needs besides widgets: the plants of a seed, and sentences that are checked before they show.

A lesson is true for any seed, or it does not run: whatever it says of a plant passes through `says`.
"""

from __future__ import annotations

import os
import random
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING

from figures.reading import Reading, read
from figures.reading.evidence import listed
from widgets.learn.consent import chosen

if TYPE_CHECKING:
    from figures.plant import Plant

SEED_NAME = "LOOPBOOK_SEED"


class Untrue(Exception):
    """A sentence that does not hold for the plant it is said of. The message names the fact that differs."""


def lesson_seed(default: int = 1) -> int:
    """The seed of a lesson's plants: the number in the environment variable LOOPBOOK_SEED, or else the class number that
    the learner has typed into the bar of a lesson, or else the default.

    A class sees the same plants when everybody has the same seed.
    Raises ValueError where it is no whole number.
    """
    given = os.environ.get(SEED_NAME, "").strip()
    if not given:
        number = chosen().number
        return default if number is None else number
    try:
        return int(given)
    except ValueError:
        raise ValueError(f"{SEED_NAME} is '{given}'; it has to be a whole number, or be left out") from None


def example(seed: int, arrangement: str, control: str, boilers: str = "one",
            fault: str = "") -> Plant:
    """A plant of one arrangement and configuration, small enough for a lesson; the same for the same seed.

    arrangement: 'single loop' or 'separated loops'.  control: the control configuration.
    boilers: 'one', with as few parts as sound piping allows, or 'several', two or three.  fault: one to spoil it with,
    'relief-missing' say.  Raises ValueError where these cannot go together.

    >>> read(example(5, "separated loops", "DHW on the boiler loop", "several")).control
    'DHW on the boiler loop'
    >>> len(example(5, "single loop", "heating only").parts)
    7
    >>> read(example(5, "single loop", "heating only", fault="relief-missing")).findings[0].rule
    'relief-missing'
    """
    from figures.plant.scheme import CONTROLS, Scheme

    if boilers not in ("one", "several"):
        raise ValueError(f"boilers is {boilers!r}; use 'one' or 'several'")
    if boilers == "one":
        small = Scheme.random(seed, arrangement=arrangement, control=control, size="small")
        return (replace(small, faults=(fault,)) if fault else small).plant()
    chance = random.Random(f"loopbook lesson {int(seed)}")
    named = Scheme.random(seed, arrangement=arrangement, control=control, boilers=(2, 3))
    count = chance.choice((2, 3))
    single = arrangement == "single loop"
    return Scheme(
        arrangement,
        separation=None if single else chance.choice(("closely spaced tees", "hydraulic separator")),
        boilers=count,
        lead=chance.randint(1, count),
        tank=next(tank for tank, told in CONTROLS.items() if told == control),
        return_order=chance.choice(("reverse", "direct")) if not single else "reverse",
        title=named.title,
        fittings=(),
        sensors=() if single else ("system supply",),
        faults=(fault,) if fault else (),
    ).plant()


class Said:
    """A sentence that was found true of its plant. A notebook shows it as text."""

    def __init__(self, text: str) -> None:
        self.text = text

    def __repr__(self) -> str:
        return self.text

    def _repr_markdown_(self) -> str:
        return self.text


def says(plant: Plant, text: str, **facts: object) -> Said:
    """A sentence about a plant, shown only if the facts that it rests on are what the plant's piping says.

    text: may hold {boilers}, {lead}, {tanks}, {loads} and {meet}: tags, and where the loops meet.
    facts: by the keys of the reading, 'arrangement', 'control', 'dhw', 'dhw_priority', 'return_order' and
    'lead' (a tag), and besides 'boilers': a number, 'one' or 'several'; 'separation': a kind, or 'none'.
    Raises Untrue where one of them differs, ValueError where none is given or a name is no fact.

    >>> plant = example(5, "single loop", "heating only")
    >>> says(plant, "{boilers} heats one loop.", arrangement="single loop")
    B1 heats one loop.
    >>> says(plant, "Two loops meet.", arrangement="separated loops")
    Traceback (most recent call last):
    widgets.show.lesson.Untrue: 'Two loops meet.': arrangement is 'single loop', not 'separated loops'
    """
    reading = read(plant)
    known = _facts(reading)
    if not facts:
        raise ValueError(f"'{text}' rests on no fact; name one of {', '.join(known)}")
    for name, said in facts.items():
        if name not in known:
            raise ValueError(f"'{name}' is no fact of a reading; name one of {', '.join(known)}")
        if said not in known[name]:
            raise Untrue(f"'{text}': {name} is {known[name][0]!r}, not {said!r}")
    return Said(text.format_map({name: escape(word) for name, word in named(plant, reading).items()}))


def named(plant: Plant, reading: Reading) -> dict[str, str]:
    """The names that a sentence may use: {boilers}, {lead}, {tanks}, {loads}, and where the loops {meet}."""
    return {
        "boilers": listed(reading.boilers), "lead": reading.lead or "no boiler",
        "tanks": listed(reading.tanks), "meet": _meet(reading),
        "loads": listed(sorted(tag for tag in plant.parts if plant.is_load(tag))),
    }


def _facts(reading: Reading) -> dict[str, tuple[object, ...]]:
    """For each fact the names under which it is true, the plainest first."""
    count = len(reading.boilers)
    return {
        "arrangement": (reading.arrangement,), "control": (reading.control,), "dhw": (reading.dhw,),
        "dhw_priority": (reading.dhw_priority,), "return_order": (reading.return_order,),
        "lead": (reading.lead,),
        "boilers": (count, "one" if count == 1 else "several"),
        "separation": tuple(dict.fromkeys(s.kind for s in reading.separations)) or ("none",),
    }


def _meet(reading: Reading) -> str:
    """Where the loops meet, in words: 'tees A and Z', 'the hydraulic separator HS'."""
    kinds = {"closely spaced tees": "tees"}
    return listed([f"{kinds.get(s.kind, 'the ' + s.kind)} {listed(s.parts)}" for s in reading.separations])
