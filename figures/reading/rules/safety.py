"""Rules about pressure: relief valves and the expansion tank. Local codes prevail over all of them."""

from __future__ import annotations

from collections.abc import Iterator

from figures.reading.evidence import listed
from figures.reading.record import Finding

from .context import Context


def _reliefs(c: Context, boiler: str) -> dict[str, tuple[str, ...]]:
    """Relief valves on a boiler's own branch, each with what stands between it and the boiler. One that a sole
    boiler reaches by nothing but pipe serves it wherever it hangs: it shares it with nobody."""
    own = {tag: between for tag, between in c.branches[boiler].between.items() if c.kind(tag) == "relief valve"}
    if len(c.boilers) == 1:
        own.update({tag: () for tag in c.by_pipe_alone(boiler) if c.kind(tag) == "relief valve"})
    return own


def relief_missing(c: Context) -> Iterator[Finding]:
    """A boiler has no relief valve on its own branch.

    Source: ASME BPVC Section IV HG-400.2 (number from memory), as restated in Md. COMAR 09.12.01.13: at least
    one per boiler. A shared one serves a sole boiler only.
    """
    bare = tuple(b for b in c.boilers if not _reliefs(c, b))
    if bare:
        yield Finding("relief-missing", "must fix", bare,
                      f"{listed(bare)} {'has' if len(bare) == 1 else 'have'} no relief valve on the branch that no other "
                      "boiler's water shares: the pressure has no safe way out.",
                      f"Have a licensed person fit a relief valve at {listed(bare)}, with nothing but pipe between, sized and "
                      "set by the local code.")


def relief_isolated(c: Context) -> Iterator[Finding]:
    """Something that can shut stands between a boiler and its relief valve.

    Source: Haw. Adm. Rules 12-223.1-10 and Maine 02-658 ch. 9 § 16: no valve of any kind between the two.
    """
    for boiler in c.boilers:
        reliefs = _reliefs(c, boiler)
        if reliefs and all(reliefs.values()):
            between = sorted({tag for tags in reliefs.values() for tag in tags})
            yield Finding("relief-isolated", "must fix", (*between, *sorted(reliefs), boiler),
                          f"{listed(between)} stands between {boiler} and its relief valve {listed(sorted(reliefs))}: once "
                          "shut, nothing relieves the boiler.",
                          f"Take {listed(between)} away, so that nothing but pipe joins {boiler} and its relief valve.")


def expansion_missing(c: Context) -> Iterator[Finding]:
    """No expansion tank, or a check or motorised valve between it and the plant.

    Source: ASHRAE HVAC Systems and Equipment, hydronic chapter (second-hand): heating 1000 L from 10 to
    80 °C swells it by 26 L; a closed plant without room for that lifts its relief valve on the first firing.
    """
    tanks = sorted(p.tag for p in c.plant.of_kind("expansion tank"))
    barred = {t: [p for p in c.hangs(t)[1] if c.kind(p) in ("check valve", "motorised valve")] for t in tanks}
    if not tanks:
        yield Finding("expansion-missing", "must fix", c.boilers,
                      "There is no expansion tank: the first firing would swell the water and lift the relief valve.",
                      "Fit an expansion tank at the inlet of the system pump, sized for the plant's water.")
    elif all(barred.values()):
        valves = sorted({p for ps in barred.values() for p in ps})
        yield Finding("expansion-missing", "must fix", (*valves, *tanks),
                      f"{listed(valves)} can shut {listed(tanks)} off from the plant, as if there were no expansion tank.",
                      f"Take {listed(valves)} out of the branch of {listed(tanks)}.")


def expansion_isolated(c: Context) -> Iterator[Finding]:
    """A hand valve on the expansion tank's branch is not locked open.

    Source: common practice, no source.
    """
    for tank in sorted(p.tag for p in c.plant.of_kind("expansion tank")):
        valves = sorted(p for p in c.hangs(tank)[1] if c.kind(p) == "isolation valve" and not c.part(p)["locked_open"])
        if valves:
            yield Finding("expansion-isolated", "should fix", (*valves, tank),
                          f"{listed(valves)} on the branch of {tank} can be shut by hand and forgotten.",
                          f"Lock or seal {listed(valves)} open, and write it on the sheet.")


def expansion_point(c: Context) -> Iterator[Finding]:
    """The expansion tank does not join the inlet of the system pump, or of every zone pump where there is none.

    Source: ASHRAE HVAC Systems and Equipment, hydronic chapter (from memory): the tank's joint keeps its
    pressure when a pump starts, so pumps discharge away from it.
    """
    tanks = sorted(p.tag for p in c.plant.of_kind("expansion tank"))
    pumps = c.pumps_with("system") or c.pumps_with("zone") or c.pumps_with("tank")
    if not tanks or not pumps:
        return
    held = {place for t in tanks for place in c.open_to(c.hangs(t)[0])}
    missed = [p for p in pumps if c.before.get(p) not in held]
    if missed:
        yield Finding("expansion-point", "should fix", (*tanks, *missed),
                      f"{listed(tanks)} does not join the inlet of {listed(missed)}: when the pump starts, the pressure at its "
                      "inlet falls, and air can be drawn in.",
                      f"Join the expansion tank to the pipe at the inlet of {listed(missed)}, with nothing but open "
                      "pipe between.")
