"""A rubric for a walk along a real rig, from the objectives: what an instructor watches for, and how well it went."""

from __future__ import annotations

from collections.abc import Mapping

from widgets.learn.objectives import OBJECTIVES, PARTS, PASS_SHARE

from .layout import Para, Section, Table

TITLE = "A walk along the rig: rubric"
UNDER = "For one learner and one instructor at a real plant, cold or warm. Practice for a certificate, and not one."
FOOT = ("The instructor, the local code, the maker's instructions and licensed people decide what may be touched. Hot water, "
        "pressure, gas, flue gas and electricity kill.")
CAUTIONS = (
    "Before the walk: the instructor knows the plant, has said what is live, hot and under pressure, and has shown where the "
    "emergency switch, the gas valve and the way out are.",
    "Look, point and say. The learner opens no valve, no cover and no union and changes no setting; whoever is licensed for it "
    "does, and says so first.",
    "Scald: pipes, tanks and drains hold water that burns deep within seconds (60 °C or 140 °F: US CPSC publication 5098, from "
    "memory). Stand clear of the relief valve's discharge.",
    "Pressure: nobody shuts off a relief valve, plugs its discharge, or loosens a fitting of a plant that is filled.",
    "Gas and flue gas: on a smell of gas, or a headache, everybody out, and ring from outside.",
    "Electricity: pumps and motorised valves start by themselves; covers stay on unless it is off, locked and proved dead.")
LEVELS = ("0 not yet", "1 with help", "2 alone", "3 alone, and says why")
SEEN: Mapping[str, str] = {
    "R1": "points at each part and says what it does to the water",
    "R2": "walks the supply to a load and the return home, at the pipes and not at the drawing",
    "R3": "stands at the place where two loops meet, or shows that there is none",
    "R4": "measures the distance of the two tees, and says whose pump moves water there",
    "R5": "names for each pump the loop it stands in",
    "R6": "finds the coil or exchanger, in other rooms too, or has shown that there is none",
    "R7": "follows the coil's two pipes to where they join",
    "R8": "counts the burners, and finds in the control which one leads",
    "R9": "follows the first boiler's water out and home, and says first or last",
    "C1": "says what the control must be told, and the piping that proves it",
    "C2": "says whether priority is a choice here, and finds or asks for its time limit",
    "C3": "finds each sensor, and says what water it feels",
    "C4": "traces from one output to the pump or valve, and names what proves the flow",
    "C5": "names who could be harmed by a cooler supply: a boiler, a load, the taps",
    "F1": "foretells what starts on a heat call, on a DHW call, on both; then the instructor makes the call",
    "F2": "says what this building would feel if the control were told otherwise",
    "F3": "foretells the mixed temperature from two flows; then it is read off",
    "F4": "says where the heat goes when the burner stops, and reads that it does",
    "F5": "reads the return, and judges it for this kind of boiler",
    "J1": "finds relief valve, discharge, expansion tank and fill, and what stands between them and each boiler",
    "J2": "shows what shuts off a resting boiler, and each bypass with its job",
    "J3": "looks for warmth, by thermometer, on a branch whose pump is off, and names the cure that works there",
    "J4": "reads the store and the taps, and says what guards whom",
    "J5": "compares each arrow on a body with the way of the water",
    "P1": "puts the commissioning steps of this plant in order",
    "P2": "says what is still in doubt, and where to stop and ask"}
"""What shows it at the rig (common practice, no source)."""


def sections() -> tuple[Section, ...]:
    """The rubric, laid out."""
    who = Table(("learner", "instructor", "rig", "date"), (("", "", "", ""),), (3, 3, 3, 2), whole=True)
    found = [Section("Site", (who,), whole=True),
             Section("Cautions", tuple(Para(text, "caution") for text in CAUTIONS), whole=True),
             Section("How to mark", (
                 Para("One mark a line: " + ", ".join(LEVELS) + ". What this rig does not have is struck out, and talked over "
                      "at a drawing instead. Let the learner finish before helping: what help was given is written down."),
                 Para(f"Lines with * are to be passed whatever the total: 2 or 3 at the rig, and {100 * PASS_SHARE:.0f} % of "
                      "their questions on paper (common practice, no source).")), whole=True)]
    for part in PARTS:
        rows = tuple((f"{code}{' *' if about.must_pass else ''}", f"{about.text}: {SEEN[code]}", "", "")
                     for code, about in OBJECTIVES.items() if about.part == part)
        found.append(Section(part, (Table(("", "the learner can, and shows it here", "0–3", "seen, said, helped with"), rows,
                                          (1, 7, 0.9, 4), whole=True),), 1, True))
    signs = (("Learner", "", "", ""), ("Instructor", "", "", ""))
    found.append(Section("Signed", (Table(("", "name", "signature", "date"), signs, (2, 3, 3, 2), whole=True), Para(
        "These marks are one instructor's view of one walk. They allow nobody to work on a boiler.")), whole=True))
    return tuple(found)


def rubric_pdf(paper: str = "a4") -> bytes:
    """The rubric as PDF."""
    from .as_pdf import pdf
    return pdf(TITLE, UNDER, sections(), FOOT, "", paper)


def rubric_text() -> str:
    """The rubric as text.

    >>> all(f"{code} " in rubric_text() for code in OBJECTIVES)
    True
    """
    from .as_text import text
    return text(TITLE, UNDER, sections(), FOOT) + "\n"
