"""The few questions that need no drawing: the order of commissioning, and what is true of every plant.

The order is that of people who teach the trade (common practice, no source); the figures for stored hot water are
those of UK HSE HSG274 Part 2. The local code and the authority that enforces it prevail.
"""

from __future__ import annotations

from itertools import pairwise

from ..items import Hint, Item, Option
from .case import Draw
from .hints import HINTS

WHY = {
    "make the place safe": "people come first",
    "flush and clean the strainer": "dirt has to be out before the plant is filled",
    "precharge the expansion tank": "its gas is set with no water pressure on it",
    "fill with water": "nothing can be tested dry",
    "test under pressure": "leaks are found cold",
    "purge the air": "air stops pumps and flow",
    "check pump rotation": "a pump that turns wrongly starves a boiler",
    "test the safeties": "before there is any fire",
    "configure the control": "the control must know the plant before it fires",
    "fire the boilers": "only with safeties tested and the control set",
    "try each call in turn": "a wrong setting shows on one call only",
    "balance the flows": "flows are set on a plant that runs",
    "check the temperature difference": "it tells whether the balance is right",
    "compare the sensors": "they must agree on a warm plant",
    "hand over the plant": "when all else is done and written down",
}
"""The steps of commissioning in order, and why each stands where it stands."""
STEPS = tuple(WHY)


def _plain(d: Draw, ident: str, objective: str, kind: str, text: str, options: list[Option], key: str, because: str) -> Item:
    first, second = HINTS[objective]
    return Item(ident, kind, kind, objective, text, tuple(options), (key,), because,
                (Hint(first), Hint(second), Hint("Ask of each step what would happen if it came later.")), None,
                difficulty=d.difficulty, needs_drawing=False)


def order(d: Draw, ident: str) -> Item:
    """P1: which of four orders is right. A harder one has longer rows."""
    count = 3 + d.difficulty
    right = sorted(d.chance.sample(range(len(STEPS)), count))
    rows = {tuple(right)}
    while len(rows) < 4:
        mixed = right[:]
        a = d.chance.randrange(count - 1)
        b = d.chance.randrange(a + 1, count) if d.difficulty < 3 else a + 1
        mixed[a], mixed[b] = mixed[b], mixed[a]
        rows.add(tuple(mixed))
    options = []
    for row in sorted(rows):
        says = ", ".join(STEPS[n] for n in row)
        value = "-".join(map(str, row))
        turned = next(((x, y) for x, y in pairwise(row) if x > y), None)
        why = f"there “{STEPS[turned[0]]}” comes before “{STEPS[turned[1]]}”." if turned else ""
        options.append(Option(value, says[0].upper() + says[1:], 21 if turned else None, why))
    because = " · ".join(f"{STEPS[n]}: {WHY[STEPS[n]]}" for n in right) + "."
    return _plain(d, ident, "P1", "order", "In which of these orders is a plant commissioned?", options,
                  "-".join(map(str, right)), because)


PUT_OFF = {"precharge the expansion tank": (12, ("fill with water",)),
           "test the safeties": (21, ("fire the boilers", "try each call in turn", "hand over the plant")),
           "configure the control": (21, ("fire the boilers", "try each call in turn", "hand over the plant")),
           "try each call in turn": (21, ("hand over the plant",)),
           "compare the sensors": (21, ("hand over the plant",))}
"""Steps that are put off, the mistake that leads to it, and the steps that they are put behind."""


def arrange(d: Draw, ident: str) -> Item:
    """P1: put some steps in order, one of them among those that people put off. A harder one has more."""
    late = d.chance.choice(sorted(PUT_OFF))
    two = {STEPS.index(late), STEPS.index(d.chance.choice(PUT_OFF[late][1]))}
    others = [n for n in range(len(STEPS)) if n not in two]
    right = sorted({*two, *d.chance.sample(others, 1 + d.difficulty)})
    options = [Option(str(n), STEPS[n][0].upper() + STEPS[n][1:], None, f"{WHY[STEPS[n]]}.") for n in right]
    turned = {(str(STEPS.index(first)), str(STEPS.index(then))): mistake for then, (mistake, before) in PUT_OFF.items()
              for first in before if {STEPS.index(first), STEPS.index(then)} <= set(right)}
    because = " · ".join(f"{STEPS[n]}: {WHY[STEPS[n]]}" for n in right) + "."
    first, second = HINTS["P1"]
    return Item(ident, "arrange", "arrange", "P1", "Put these steps of commissioning in order, the first one on top.",
                tuple(options), tuple(map(str, right)), because,
                (Hint(first), Hint(second), Hint(f"“{options[0].label}” comes first of these.")), None, pick="order",
                difficulty=d.difficulty, needs_drawing=False, turned=turned)


def left_out(d: Draw, ident: str) -> Item:
    """P1: which step belongs between two others."""
    step = d.chance.randrange(1, len(STEPS) - 1)
    others = [n for n in range(len(STEPS)) if n not in (step - 1, step, step + 1)]
    wrong = d.chance.sample(others, 3)
    options = [Option(str(n), STEPS[n][0].upper() + STEPS[n][1:], 21 if n != step else None,
                      "" if n == step else f"that comes {'earlier' if n < step else 'later'}.") for n in (step, *wrong)]
    text = f"“{STEPS[step - 1]}” is done, and “{STEPS[step + 1]}” is to come. Which step is missing between the two?"
    return _plain(d, ident, "P1", "missing", text, options, str(step), f"Between them comes “{STEPS[step]}”: {WHY[STEPS[step]]}.")


def step_true(d: Draw, ident: str) -> Item:
    """P1: a statement on two steps, true or false with the reason."""
    a, b = sorted(d.chance.sample(range(len(STEPS)), 2))
    said = (a, b) if d.chance.random() < 0.5 else (b, a)
    true = said == (a, b)
    x, y = (STEPS[n] for n in said)
    options = [Option("first", f"{'True' if true else 'False'}: “{STEPS[a]}” comes first, for {WHY[STEPS[a]]}"),
               Option("last", f"{'False' if true else 'True'}: “{STEPS[b]}” comes first, for {WHY[STEPS[b]]}", 21,
                      f"“{STEPS[b]}” has to wait for the other."),
               Option("either", "False: the two may be done in either order, as it suits", 21,
                      "the one makes the other safe or possible.")]
    text = f"Somebody says: “{x}” comes before “{y}”. Is that true or false, and why?"
    return _plain(d, ident, "P1", "true or false", text, options, "first", f"“{STEPS[a]}” comes first: {WHY[STEPS[a]]}.")


SCALDS = (
    ("A tap scalds. What is the cure?", "Have a mixing valve fitted at the tank's outlet", (
        ("Turn the tank down until no tap scalds", 17, "a cool store lets bacteria grow"),
        ("Turn the tank down by night, up by day", 17, "a store that is cool by night lets bacteria grow"),
        ("Have the DHW called for less often", 16, "the store stays as hot as it is set, or grows cool")),
     "The store stays at 60 °C or more, and a thermostatic mixing valve guards the taps; taps may need their own."),
    ("Bacteria were found in a tank kept at 45 °C. What is the cure?", "Store hot, and guard the taps with a mixing valve", (
        ("Store hot, and put up a notice at each tap", 17, "a notice guards nobody from a burn"),
        ("Store as it is, and draw off more each day", 16, "growth goes on between 20 and 45 °C"),
        ("Store cooler still, so that nothing grows", 17, "20 to 45 °C is just where bacteria grow")),
     "Between 20 and 45 °C bacteria grow; the store belongs at 60 °C or more, the taps behind a mixing valve."),
    ("Somebody wants to save energy at a tank kept at 60 °C. What do you say?",
     "Leave the store hot, and lag the tank and its pipes", (
        ("Turn the store down to what the taps need", 17, "that is where bacteria grow"),
        ("Leave it hot, and take the mixing valve out", 17, "the taps would scald"),
        ("Turn the store down whenever it is not drawn", 17, "still warm water is just where bacteria grow")),
     "The store's temperature guards people's health; losses are cut by lagging."))


def scald(d: Draw, ident: str) -> Item:
    """J4: scalding against bacterial growth, true of every tank."""
    text, right, wrong, because = d.chance.choice(SCALDS)
    options = [Option(right, right), *(Option(label, label, mistake, f"{why}.") for label, mistake, why in wrong)]
    return _plain(d, ident, "J4", "name", text, options, right, because)


PLAIN = {("P1", "order"): order, ("P1", "arrange"): arrange, ("P1", "missing"): left_out, ("P1", "true or false"): step_true,
         ("J4", "name"): scald}
"""Makers of questions that need no drawing, by objective and kind."""
