"""Rules about boilers: how each is shut off, in which order their water returns, which one leads."""

from __future__ import annotations

from collections.abc import Iterator

from figures.reading.evidence import listed
from figures.reading.record import Finding

from .context import Context


def boiler_isolation(c: Context) -> Iterator[Finding]:
    """Single loop with several boilers: one of them cannot be closed by the control.

    Source: common practice, no source: water through an idle boiler loses heat and dilutes the
    supply.
    """
    if not c.single or len(c.boilers) < 2:
        return
    for boiler in c.boilers:
        if c.own(boiler, "motorised valve") or (c.own(boiler, "pump") and c.own(boiler, "check valve")):
            continue
        yield Finding("boiler-isolation", "must fix", (boiler,),
                      f"Nothing closes {boiler} while it rests: it has no motorised valve, and no pump of its own with a "
                      "check valve, so cold water passes it and dilutes the supply.",
                      f"Fit a motorised valve on the branch of {boiler}.")


def boiler_isolation_local(c: Context) -> Iterator[Finding]:
    """Single loop with one boiler and no motorised valve at it.

    Source: common practice, no source: hand stop valves are usual; a motorised valve where code or maker asks.
    """
    if not c.single or len(c.boilers) != 1 or c.own(c.boilers[0], "motorised valve"):
        return
    yield Finding("boiler-isolation-local", "check local code", c.boilers,
                  f"{c.boilers[0]} has no motorised valve. With one boiler hand stop valves are usual.",
                  "Ask whether the local code or the boiler's maker wants a motorised valve.")


def valve_fail_position(c: Context) -> Iterator[Finding]:
    """A boiler's motorised valve closes without power.

    Source: common practice, no source: spring to open, power to close; whatever the valve, no
    burner may fire until flow is proved.
    """
    for boiler in c.boilers:
        valves = [v for v in c.own(boiler, "motorised valve") if c.part(v)["power_off"] == "closed"]
        if valves:
            yield Finding("valve-fail-position", "should fix", (*valves, boiler),
                          f"{listed(valves)} at {boiler} closes when its power fails and shuts a hot boiler in.",
                          f"Fit a valve that springs open and is powered shut in place of {listed(valves)}.")


def reverse_return(c: Context) -> Iterator[Finding]:
    """Several boilers on direct return.

    Source: common practice: on direct return the nearest branch takes most (`tests/oracles/test_networks.py`, H4 and H5).
    Where each boiler has a pump of its own the pump evens it out, and it is only worth a note.
    """
    if c.reading.return_order != "direct":
        return
    pumped = all(c.own(boiler, "pump") for boiler in c.boilers)
    order = c.found.order
    yield Finding("reverse-return", "note" if pumped else "should fix", c.boilers,
                  f"{listed(c.boilers)} are on direct return: {order.out[0]} is first out and first back"
                  + (", though each has a pump of its own." if pumped else ", so it takes more water than the others."),
                  "Balance the branches." if pumped else
                  "Pipe the return so that the boiler first out is last back, or balance the branches.")


def lead_boiler(c: Context) -> Iterator[Finding]:
    """Several boilers and not exactly one lead.

    Source: common practice, no source: two sequencers would fight over the stages.
    """
    if len(c.boilers) < 2 or c.found.lead is not None:
        return
    marked = tuple(b for b in c.boilers if c.part(b)["lead"])
    yield Finding("lead-boiler", "should fix", marked or c.boilers,
                  f"{listed(marked)} are all marked as lead." if marked else f"None of {listed(c.boilers)} is marked as lead.",
                  "Name exactly one lead boiler.")


def proof_of_flow(c: Context) -> Iterator[Finding]:
    """No flow switch is drawn at a boiler.

    Source: common practice, no source: a boiler that fires without flow overheats.
    """
    bare = tuple(b for b in c.boilers if not c.own(b, "flow switch"))
    if bare:
        yield Finding("proof-of-flow", "note", bare, f"No flow switch is drawn at {listed(bare)}.",
                      "Make sure that each burner is proved its flow before it fires, by a flow switch or an end switch.")


def low_water(c: Context) -> Iterator[Finding]:
    """No low-water cut-off is drawn at a boiler.

    Source: ASME BPVC Section IV asks for one above a size (from memory); many places ask more.
    """
    guarded = {p["at"] for p in c.plant.of_kind("low-water cut-off")}
    bare = tuple(b for b in c.boilers if b not in guarded)
    if bare:
        yield Finding("low-water", "note", bare, f"No low-water cut-off is drawn at {listed(bare)}.",
                      "Ask the local code whether one is wanted, and whether it is inside the boiler.")
