"""Plants of any size for the benchmarks: risers of zones on a common pair of mains."""

from __future__ import annotations

from figures.plant import Part, Plant, Run


def ladder(zones: int, per_riser: int = 40) -> Plant:
    """One boiler with its pump, mains with risers, and on each riser emitters in parallel: three runs a zone.

    Every fifth zone has a check valve, every seventh a balancing valve."""
    parts: dict[str, Part] = {"B": Part("B", "boiler", {"output_kw": 5.0 * zones, "kv_m3h": 20.0 * zones}),
                              "P": Part("P", "pump", {"shutoff_m": 14.0, "rated_lps": 0.1 * zones + 0.2, "rated_m": 8.0})}
    runs = []

    def tee(tag: str) -> str:
        parts.setdefault(tag, Part(tag, "tee"))
        return tag

    def bore(flow_lps: float) -> dict[str, float]:
        return {"inside_mm": max(20.0, 1000.0 * (4.0 * flow_lps / 1000.0 / (3.14159 * 1.0)) ** 0.5), "roughness_mm": 0.045}

    risers = -(-zones // per_riser)
    runs.append(Run((tee("R0"), "B", "P", tee("S0")), 5.0, None, 2.0, **bore(0.1 * zones)))
    for r in range(risers):
        here = min(per_riser, zones - r * per_riser)
        s, t = f"S{r}", f"R{r}"
        if r:
            flow = 0.1 * (zones - r * per_riser)
            runs.append(Run((f"S{r - 1}", tee(s)), 4.0, None, 0.0, **bore(flow)))
            runs.append(Run((tee(t), f"R{r - 1}"), 4.0, None, 0.0, **bore(flow)))
        for z in range(here):
            up, down, tag = f"U{r}-{z}", f"D{r}-{z}", f"E{r}-{z}"
            flow = 0.1 * (here - z)
            runs.append(Run((s if z == 0 else f"U{r}-{z - 1}", tee(up)), 3.0, None, 0.5, **bore(flow)))
            runs.append(Run((tee(down), t if z == 0 else f"D{r}-{z - 1}"), 3.0, None, 0.5, **bore(flow)))
            parts[tag] = Part(tag, "emitter", {"load_kw": 4.0, "kv_m3h": 1.0})
            through = [up, tag, down]
            if z % 5 == 4:
                parts[f"C{r}-{z}"] = Part(f"C{r}-{z}", "check valve", {"kv_m3h": 2.0})
                through.insert(1, f"C{r}-{z}")
            if z % 7 == 6:
                parts[f"V{r}-{z}"] = Part(f"V{r}-{z}", "balancing valve", {"kv_m3h": 1.5})
                through.insert(1, f"V{r}-{z}")
            runs.append(Run(tuple(through), 8.0, None, 4.0, inside_mm=16.0, roughness_mm=0.0015))
    return Plant(f"{zones} zones", parts, tuple(runs))
