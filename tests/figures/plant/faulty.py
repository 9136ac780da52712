"""A sound plant, and the faults to spoil it with: what to change, and the one line that must come of it."""

PLANT = """format = 1
title = "Weir Lane"

[parts.B1]
kind = "boiler"
output_kw = 80.0

[parts.PB1]
kind = "pump"
shutoff_m = 6.0
rated_m = 4.0

[parts.A]
kind = "tee"

[parts.HS]
kind = "hydraulic separator"

[parts.RV1]
kind = "relief valve"

[parts.E1]
kind = "emitter"

[parts.PS]
kind = "pump"

[parts.TS]
kind = "temperature sensor"
role = "system supply"
at = "E1"

[[runs]]
through = ["B1", "A"]
size = "NPS 2"
length_m = 0.5

[[runs]]
through = ["A", "RV1"]
size = "NPS 1"
length_m = 0.5

[[runs]]
through = ["A", "PB1", "HS.a_supply"]
size = "NPS 2"
length_m = 3.0
k = 2.0

[[runs]]
through = ["HS.a_return", "B1"]
size = "CU 2"
length_m = 3.0

[[runs]]
through = ["HS.b_supply", "PS", "E1", "HS.b_return"]
inside_mm = 40.0
roughness_mm = 0.05
length_m = 30.0
"""


def _run(first: str, last: str) -> str:
    """A further run before the first one."""
    return f'[[runs]]\nthrough = ["{first}", "{last}"]\nsize = "NPS 1"\nlength_m = 1.0\n[[runs]]'


FAULTS = {
    "format": (("format = 1", "format = 2"),
        "format: 2 is not known here; write 'format = 1'"),
    "format of another type": (("format = 1", "format = true"),
        "format: true is not known here; write 'format = 1'"),
    "no format": (("format = 1\n", ""),
        "format: is missing; write 'format = 1' as the first line"),
    "unknown table": (("[parts.B1]", "[desing]\nroom_c = 20.0\n[parts.B1]"),
        "desing: no such key in a plant file; did you mean 'design'?"),
    "title of another type": (('"Weir Lane"', "7"),
        'title: must be text, not 7; write title = "the name of the plant"'),
    "title with markup": (("Weir Lane", "<b>Weir</b> Lane"),
        "title: '<b>Weir</b> Lane' holds markup; write plain text without tags such as <b>"),
    "title with a control character": (("Weir Lane", "Weir\\u001b[31m Lane"),
        "title: 'Weir?[31m Lane' holds a control character; write one line of plain text"),
    "title that turns text round": (("Weir Lane", "Weir\\u202e Lane"),
        "title: 'Weir? Lane' holds a control character; write one line of plain text"),
    "long title": (("Weir Lane", "W" * 121),
        "title: is 121 characters long; use at most 120"),
    "design out of range": (("[parts.B1]", "[design]\nroom_c = 90\n[parts.B1]"),
        "design.room_c: 90 is out of range; write a figure from 0 to 40"),
    "design outdoor above the room": (("[parts.B1]", "[design]\noutdoor_c = 21\n[parts.B1]"),
        "design.outdoor_c: the outdoor 21 °C is not below the room, 20 °C; write the coldest day that the plant is laid out for"),
    "design return above supply": (("[parts.B1]", "[design]\nsupply_c = 60\n[parts.B1]"),
        "design.supply_c: the return 65 °C is not below the supply 60 °C; write a return colder than "
        "the supply"),
    "tag": (("[parts.B1]", '[parts."<i>"]\nkind = "drain"\n[parts.B1]'),
        'parts."<i>": is no tag; use a letter, then up to 23 letters, digits, \'-\' or \'_\''),
    "tag with a dot": (("[parts.B1]", '[parts."B.1"]\nkind = "drain"\n[parts.B1]'),
        'parts."B.1": is no tag; use a letter, then up to 23 letters, digits, \'-\' or \'_\''),
    "no kind": (('[parts.PS]\nkind = "pump"', "[parts.PS]"),
        "parts.PS.kind: is missing; `loopbook parts` lists the kinds"),
    "unknown kind": (('kind = "emitter"', 'kind = "emiter"'),
        "parts.E1.kind: 'emiter' is no kind of part; did you mean 'emitter'?"),
    "unknown key": (("rated_m = 4.0", "rated_head = 4.0"),
        "parts.PB1.rated_head: no key of a pump; did you mean 'rated_m'?"),
    "key of another kind": (('kind = "tee"', 'kind = "tee"\nkv_m3h = 3.0'),
        "parts.A.kv_m3h: no key of a tee; it takes no keys but 'kind'"),
    "text for a number": (("output_kw = 80.0", 'output_kw = "80 kW"'),
        "parts.B1.output_kw: must be a number, not '80 kW'; write a bare figure"),
    "flag for a number": (("output_kw = 80.0", "output_kw = true"),
        "parts.B1.output_kw: must be a number, not true; write a bare figure"),
    "list for a number": (("output_kw = 80.0", "output_kw = [[80.0]]"),
        "parts.B1.output_kw: must be a number, not a list; write a bare figure"),
    "date for a number": (("output_kw = 80.0", "output_kw = 2027-01-01"),
        "parts.B1.output_kw: must be a number, not a date or time; write a bare figure"),
    "not a number": (("output_kw = 80.0", "output_kw = nan"),
        "parts.B1.output_kw: must be a finite number, not nan; write a figure from 0.1 to 100000"),
    "infinite": (("output_kw = 80.0", "output_kw = -inf"),
        "parts.B1.output_kw: must be a finite number, not -inf; write a figure from 0.1 to 100000"),
    "huge whole number": (("output_kw = 80.0", "output_kw = " + "9" * 400),
        "parts.B1.output_kw: must be a finite number, not a huge whole number; write a figure from 0.1 "
        "to 100000"),
    "out of range": (("output_kw = 80.0", "output_kw = -80.0"),
        "parts.B1.output_kw: -80 is out of range; write a figure from 0.1 to 100000"),
    "number for a flag": (("output_kw = 80.0", "lead = 1"),
        "parts.B1.lead: must be true or false, not 1; write it without quotes"),
    "unknown choice": (('role = "system supply"', 'role = "supply"'),
        "parts.TS.role: 'supply' is no choice here; did you mean 'system supply'?"),
    "number for a choice": (('role = "system supply"', "role = 3"),
        "parts.TS.role: must be text, not 3; write it in quotes"),
    "no role": (('role = "system supply"\n', ""),
        'parts.TS.role: is missing; write role = "system supply"'),
    "sensor at no part": (('at = "E1"', 'at = "E11"'),
        "parts.TS.at: 'E11' is no part of this plant; did you mean 'E1'?"),
    "sensor at itself": (('at = "E1"', 'at = "TS"'),
        "parts.TS.at: TS is an instrument itself; name what it is fixed to"),
    "sensor at no port": (('at = "E1"', 'at = "HS.a"'),
        "parts.TS.at: HS has no port 'a'; known are a_supply, a_return, b_supply, b_return"),
    "sensor nowhere": (('at = "E1"\n', ""),
        "parts.TS.at: is missing; write the tag of what it is fixed to"),
    "outdoor sensor somewhere": (('role = "system supply"', 'role = "outdoor"'),
        "parts.TS.at: an outdoor sensor is at no part; leave 'at' out"),
    "cut-off at a pump": (("[parts.TS]", '[parts.LW]\nkind = "low-water cut-off"\nat = "PS"\n[parts.TS]'),
        "parts.LW.at: PS is a pump; name a boiler"),
    "pump curve upside down": (("rated_m = 4.0", "rated_m = 7.0"),
        "parts.PB1.rated_m: the rated head 7 m is not below the shutoff head 6 m; a pump's head falls "
        "as its flow rises"),
    "emitter upside down": (('kind = "emitter"', 'kind = "emitter"\nsupply_c = 55'),
        "parts.E1.supply_c: the return 65 °C is not below the supply 55 °C; write a return colder than "
        "the supply"),
    "no boiler": (('kind = "boiler"\noutput_kw = 80.0', 'kind = "strainer"'),
        'parts: no boiler; a plant has at least one part with kind = "boiler"'),
    "unknown size": (('size = "CU 2"', 'size = "CU 7"'),
        "runs[3].size: HS>B1: 'CU 7' is no size; did you mean 'CU 4'?"),
    "no size": (('size = "CU 2"\n', ""),
        'runs[3].size: HS>B1: is missing; write size = "NPS 2", or both inside_mm and roughness_mm'),
    "half a size": (("roughness_mm = 0.05\n", ""),
        'runs[4].roughness_mm: HS>HS: is missing; write size = "NPS 2", or both inside_mm and '
        "roughness_mm"),
    "too rough a pipe": (("roughness_mm = 0.05\n", "roughness_mm = 2.5\n"),
        "runs[4].roughness_mm: HS>HS: 2.5 mm in a pipe 40 mm wide is rougher than friction is known for; write at most a "
        "twentieth of inside_mm, 2"),
    "size said twice": (("inside_mm = 40.0", 'size = "NPS 2"\ninside_mm = 40.0'),
        "runs[4].size: HS>HS: stands beside inside_mm and roughness_mm; say it one way only"),
    "no length": (("length_m = 30.0\n", ""),
        "runs[4].length_m: HS>HS: is missing; write the run's length in metres"),
    "no length at all": (("length_m = 30.0\n", "length_m = 0\n"),
        "runs[4].length_m: HS>HS: 0 is out of range; write a figure from 0.001 to 10000"),
    "unknown key of a run": (("k = 2.0", "kk = 2.0"),
        "runs[2].kk: A>HS: no key of a run; did you mean 'k'?"),
    "run without parts": (('through = ["HS.a_return", "B1"]\n', ""),
        'runs[3].through: is missing; write through = ["B1", "PB1", "A"]; '
        'joined too seldom: B1, HS.a_return'),
    "run of one part": (('["HS.a_return", "B1"]', '["B1"]'),
        'runs[3].through: must be a list of two or more tags; write through = ["B1", "PB1", "A"]; '
        'joined too seldom: B1, HS.a_return'),
    "run through a number": (('"PS", "E1"', '5, "E1"'),
        "runs[4].through[1]: must be a tag, not 5; did you mean 'PS', which joins no run? If not, "
        'write it in quotes, such as "B1"'),
    "run to nowhere": (('"HS.a_return", "B1"', '"HS.a_return", "BOILER"'),
        "runs[3].through[1]: 'BOILER' is no part of this plant; did you mean 'B1', "
        "which is joined once (runs[0])? If not, write [parts.BOILER] or mend the tag"),
    "run through a misspelt part": (('"A", "PB1"', '"A", "PB11"'),
        "runs[2].through[1]: 'PB11' is no part of this plant; did you mean 'PB1', "
        "which joins no run? If not, write [parts.PB11] or mend the tag"),
    "tag in the wrong case": (('"PS", "E1"', '"ps", "E1"'),
        "runs[4].through[1]: 'ps' is no part of this plant; did you mean 'PS', "
        "which joins no run? If not, write [parts.ps] or mend the tag"),
    "tag that is none": (('"PS", "E1"', '"p s", "E1"'),
        "runs[4].through[1]: 'p s' is no part of this plant; did you mean 'PS', "
        "which joins no run? If not, mend the tag"),
    "part without its table": (('[parts.PB1]\nkind = "pump"\nshutoff_m = 6.0\nrated_m = 4.0\n', ""),
        "runs[2].through[1]: 'PB1' is no part of this plant; did you mean 'B1'? "
        "If not, write [parts.PB1] or mend the tag"),
    "tee without its table": (('[parts.A]\nkind = "tee"\n', ""),
        "runs[0].through[1]: 'A' is no part of this plant (also at runs[1].through[0], runs[2].through[0]); "
        "write [parts.A] or mend the tag"),
    "run without its port": (('"HS.a_return", "B1"', '"HS", "B1"'),
        "runs[3].through[0]: HS: names no port; write one of HS.a_supply, HS.a_return, HS.b_supply, "
        "HS.b_return"),
    "port of a pump": (('"PS", "E1"', '"PS.a", "E1"'),
        "runs[4].through[1]: PS: a pump has no ports; write 'PS'"),
    "sensor on a run": (('"PS", "E1"', '"PS", "TS", "E1"'),
        "runs[4].through[2]: TS: TS is a temperature sensor, which lies on no run; leave it out; its "
        "'at' says where it is"),
    "tee inside a run": (('"PS", "E1"', '"PS", "A", "E1"'),
        "runs[4].through[2]: A: A is a tee and stands inside a run; end the run at A and start the "
        "next there"),
    "part twice in a run": (('"PS", "E1"', '"PS", "E1", "PS"'),
        "runs[4].through[3]: PS: 'PS' stands in this run already, at [1]; name each part once in a run"),
    "pipe from a tee to itself": (("[[runs]]", _run("A", "A")),
        "runs[0].through[1]: A: 'A' stands in this run already, at [0]; name each part once in a run"),
    "part joined once": (("[parts.TS]", '[parts.XT]\nkind = "expansion tank"\n[parts.TS]'),
        "parts.XT: XT joins no run; an expansion tank is joined by one run end"),
    "end part joined twice": (("[[runs]]", _run("A", "RV1")),
        "parts.RV1: RV1 is joined 2 times (runs[0], runs[2]); a relief valve is joined by one run end"),
    "boiler joined three times": (("[[runs]]", _run("B1", "A")),
        "parts.B1: B1 is joined 3 times (runs[4], runs[0], runs[1]); a boiler is joined once on each side"),
    "port joined twice": (("[[runs]]", _run("A", "HS.a_return")),
        "parts.HS: HS.a_return is joined 2 times (runs[0], runs[4]); a hydraulic separator is joined "
        "by one run end"),
    "no direction": (('"HS.a_return", "B1"', '"B1", "HS.a_return"'),
        "parts.B1: starts two runs (runs[0], runs[3]), so it has no direction; turn one of them round, "
        "so that water enters by one and leaves by the other"),
}
