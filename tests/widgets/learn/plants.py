"""Plants for these tests, with tags of their own that say nothing."""

from __future__ import annotations

from figures.plant import Plant, parse_plant

Rows = list[tuple[list[str], float]]


def build(parts: dict[str, str], runs: Rows) -> Plant:
    """A plant from `tag: kind and keys` and runs of NPS 2 with their lengths in metres."""
    lines = ["format = 1", "[parts]"]
    lines += [f"{tag} = {{ kind = {words} }}" for tag, words in parts.items()]
    for through, length_m in runs:
        ends = ", ".join(f'"{end}"' for end in through)
        lines += ["[[runs]]", f"through = [{ends}]", 'size = "NPS 2"', f"length_m = {length_m}"]
    return parse_plant("\n".join(lines))


BOILER = '"boiler"'
PUMP = '"pump"'
TEE = '"tee"'
EMITTER = '"emitter"'
TANK = '"indirect tank"'


def ring(**more: str) -> Plant:
    """One loop, one boiler, one radiator."""
    return build({"K": more.get("K", BOILER), "P": PUMP, "H": more.get("H", EMITTER)},
                 [(["K", "P", "H", "K"], 20.0)])


def two_loops(tank: str = "", pump: bool = True, **kinds: str) -> Plant:
    """Closely spaced tees Q and W; the coil of T on the 'boiler' side, the 'system' side, 'both', or none.

    On both means that the coil is fed from one loop and returns to the other.
    """
    parts = {"K": BOILER, "PK": PUMP, "Q": TEE, "W": TEE, "PS": PUMP, "H": EMITTER, **kinds}
    runs: Rows = [(["Q", "W"], 0.15)]
    coil = ["PT", "T"] if pump else ["T"]
    if tank:
        parts |= {"T": TANK, **({"PT": PUMP} if pump else {})}
    if tank in ("boiler", "both"):
        parts |= {"M": TEE}
        runs += [(["K", "PK", "M"], 3.0), (["M", "Q"], 2.0)]
    else:
        runs += [(["K", "PK", "Q"], 3.0)]
    if tank == "boiler":
        parts |= {"N": TEE}
        runs += [(["M", *coil, "N"], 4.0), (["W", "N"], 2.0), (["N", "K"], 3.0),
                 (["Q", "PS", "H", "W"], 20.0)]
    elif tank == "both":
        parts |= {"N": TEE}
        runs += [(["M", *coil, "N"], 4.0), (["W", "K"], 3.0), (["Q", "PS", "H", "N"], 20.0),
                 (["N", "W"], 2.0)]
    elif tank == "system":
        parts |= {"M": TEE, "N": TEE}
        runs += [(["W", "K"], 3.0), (["Q", "PS", "M"], 5.0), (["M", "H", "N"], 20.0),
                 (["M", *coil, "N"], 6.0), (["N", "W"], 5.0)]
    else:
        runs += [(["W", "K"], 3.0), (["Q", "PS", "H", "W"], 20.0)]
    return build(parts, runs)
