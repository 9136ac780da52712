"""What is refused of a plant file, where it is said to stand, and that it is said once."""

import time

import pytest

from figures.plant import SIZES, BadPlant, Bore, parse_plant
from figures.plant.refusal import CONTROL, near, shown
from tests.figures.plant.faulty import FAULTS, PLANT
from tests.plants import SAMPLES

ISLAND_PARTS = '[parts.B9]\nkind = "boiler"\n[parts.P9]\nkind = "pump"\n\n'
ISLAND_RUN = '[[runs]]\nthrough = ["B9", "P9", "B9"]\nsize = "NPS 1"\nlength_m = 1.0\n'


def run(first: str, last: str) -> str:
    """The text of a further run."""
    return f'[[runs]]\nthrough = ["{first}", "{last}"]\nsize = "NPS 1"\nlength_m = 1.0\n'


def refusals(text: str, *changes: tuple[str, str]) -> list[str]:
    """The lines with which a changed plant is refused; none where it is sound."""
    for old, new in changes:
        assert text.count(old) >= 1, f"the plant has no {old!r} to change"
        text = text.replace(old, new, 1)
    try:
        parse_plant(text)
    except BadPlant as error:
        assert len(error.lines()) == len(set(error.lines())), "something is told twice"
        assert not any(CONTROL.search(line) for line in error.lines()), "a line holds a control character"
        return error.lines()
    return []


def places(text: str, *changes: tuple[str, str]) -> list[str]:
    """Where a changed plant is refused."""
    return [line.partition(": ")[0] for line in refusals(text, *changes)]


def test_the_plant_that_these_tests_spoil_is_sound():
    """So whatever is refused below comes of the change alone."""
    assert refusals(PLANT) == []


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_sample_is_sound(path):
    """The invented plants are all taken."""
    assert refusals(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("fault", FAULTS)
def test_one_fault_is_one_line_that_says_where_what_and_how_to_mend(fault):
    """No fault brings a second line with it, and none goes unseen."""
    change, line = FAULTS[fault]
    assert refusals(PLANT, change) == [line]


def test_a_part_that_hangs_on_one_run_is_refused():
    """A pump at the end of a run with nothing beyond it."""
    change = ("[parts.TS]", '[parts.PX]\nkind = "pump"\n[parts.TS]')
    assert refusals(PLANT, change, ("[[runs]]", run("A", "PX") + "[[runs]]")) == [
        "parts.PX: PX is joined once (runs[0]); a pump is joined once on each side"]


def test_ports_that_join_no_run_are_told_together():
    """A vessel that nobody has piped is one fault, not four."""
    assert refusals(PLANT, ("[parts.TS]", '[parts.BT]\nkind = "buffer tank"\n[parts.TS]')) == [
        "parts.BT: BT.a_supply, BT.a_return, BT.b_supply, BT.b_return join no run; each is joined by one run end"]


def test_two_plants_in_one_file_are_named_as_such():
    """Both are named by their first parts."""
    assert refusals(PLANT, ("[parts.TS]", ISLAND_PARTS + "[parts.TS]"),
                    ("[[runs]]", ISLAND_RUN + "[[runs]]")) == [
        "runs: 2 plants that no pipe joins (B1, PB1, A, HS, …; B9, P9); "
        "write one plant a file, or the run that joins them"]


def test_all_faults_are_told_at_once_in_file_order():
    """Size, kind, figure, joint, direction and island stand beside each other, each once."""
    lines = refusals(
        PLANT, ("format = 1", "format = 9"), ("output_kw = 80.0", "output_kw = inf"),
        ('kind = "emitter"', 'kind = "radiator"'), ("[parts.TS]", ISLAND_PARTS + "[parts.TS]"),
        ('role = "system supply"', 'role = "nose"'),
        ('size = "NPS 1"', 'size = "NPS 11"'), ('["HS.a_return", "B1"]', '["B1", "HS.a_return"]'),
        ("length_m = 30.0", 'length_m = "30 m"'))
    assert [line.partition(": ")[0] for line in lines] == [
        "format", "parts.B1.output_kw", "parts.B1", "parts.E1.kind", "parts.B9", "parts.P9", "parts.TS.role",
        "runs[1].size", "runs[4].length_m"]


def test_a_run_with_a_bad_size_still_joins_its_parts():
    """So neither B1 nor A is said to lack a joint, and a joint that is too much is still told."""
    extra = ("[[runs]]", run("B1", "A") + "[[runs]]")
    assert places(PLANT, extra, ('size = "CU 2"', 'size = "CU 7"')) == [
        "parts.B1", "runs[4].size"]


def test_a_part_with_a_bad_figure_still_stands_for_its_joints():
    """Its kind can be read, so its joints are judged."""
    assert places(
        PLANT, ("output_kw = 80.0", "output_kw = 0"), ('"HS.a_return", "B1"', '"B1", "HS.a_return"')) == [
        "parts.B1.output_kw", "parts.B1"]


def test_one_misspelling_accounts_for_one_missing_joint_only():
    """'PB11' may have been PB1; that E2 joins no run has nothing to do with it."""
    assert places(
        PLANT, ('"A", "PB1"', '"A", "PB11"'), ("[parts.TS]", '[parts.E2]\nkind = "emitter"\n[parts.TS]')) == [
        "parts.E2", "runs[2].through[1]"]


def test_a_part_that_a_run_to_nowhere_may_have_meant_is_named_there():
    """Two faults or one: the line tells both, so nothing is kept back."""
    nowhere = ("[[runs]]", run("A", "NOWHERE") + "[[runs]]")
    assert refusals(PLANT, nowhere, ("[parts.TS]", '[parts.RV2]\nkind = "relief valve"\n[parts.TS]')) == [
        "runs[0].through[1]: 'NOWHERE' is no part of this plant; did you mean 'RV2', which joins no run? "
        "If not, write [parts.NOWHERE] or mend the tag"]


def test_two_plants_are_told_beside_a_run_to_nowhere():
    """However that run is mended, it joins no two rings of boilers."""
    assert places(PLANT, ("[parts.TS]", ISLAND_PARTS + "[parts.TS]"),
                  ("[[runs]]", ISLAND_RUN + run("A", "NOWHERE") + "[[runs]]")) == ["runs[1].through[1]", "runs"]


def test_a_cross_check_waits_for_the_figures_that_it_needs():
    """A refused shutoff head is not compared, by its default, with the rated one."""
    assert places(
        PLANT, ("shutoff_m = 6.0", "shutoff_m = nan"), ("rated_m = 4.0", "rated_m = 9.0")) == [
        "parts.PB1.shutoff_m"]


def test_a_ring_may_come_home_to_where_it_began():
    """A boiler that both starts and ends one run is joined once on each side; a ring may be cut at a tee."""
    ring = """format = 1
[parts.B1]
kind = "boiler"
[parts.P1]
kind = "pump"
[[runs]]
through = ["B1", "P1", "B1"]
size = "NPS 1"
length_m = 5.0
"""
    assert refusals(ring) == []
    assert refusals(ring, ('["B1", "P1", "B1"]', '["A", "B1", "P1", "A"]'),
                    ("[parts.P1]", '[parts.A]\nkind = "tee"\n[parts.P1]')) == []


def test_two_runs_between_the_same_tees_and_a_capped_tee_are_sound():
    """Parallel twins are common; a tee joins two ends where a header is capped or a pipe changes size."""
    tee = (('["B1", "A"]', '["B1", "C"]'), ("[parts.A]", '[parts.C]\nkind = "tee"\n[parts.A]'))
    assert refusals(PLANT, *tee, ("[[runs]]", run("C", "A") + run("C", "A") + "[[runs]]")) == []
    assert refusals(PLANT, *tee, ("[[runs]]", run("C", "A") + "[[runs]]")) == []


@pytest.mark.parametrize(("text", "where"), [
    ("x = 1", ["format", "x", "parts", "runs"]),
    ("format = 1\nparts = 3\nruns = 4", ["parts", "runs"]),
    ("format = 1\n[[parts]]\nkind = 3\n[runs]\nx = 2", ["parts", "runs"]),
    ("format = 1\nruns = [1]\n[parts]\nB1 = 2", ["runs[0]", "parts.B1"]),
    ('format = 1\n[[runs]]\nthrough = ["A", "B"]\nsize = 3\n', ["runs[0].length_m", "runs[0].size", "parts"]),
])
def test_a_file_of_another_shape_is_told_what_is_missing(text, where):
    """Tables where lists belong, lists where tables belong, nothing at all."""
    assert places(text) == where


def many_parts(count: int) -> str:
    """A plant of so many parts: emitters, five to a run, between two tees."""
    lines = ["format = 1", "[parts.B1]", 'kind = "boiler"', "[parts.S]", 'kind = "tee"',
             "[parts.R]", 'kind = "tee"']
    runs = ["[[runs]]", 'through = ["R", "B1", "S"]', 'size = "NPS 6"', "length_m = 2.0"]
    for first in range(0, count - 3, 5):
        tags = [f"E{n}" for n in range(first, min(first + 5, count - 3))]
        for tag in tags:
            lines += [f"[parts.{tag}]", 'kind = "emitter"', "load_kw = 1.0", "kv_m3h = 8.0"]
        runs += ["[[runs]]", f"through = {['S', *tags, 'R']}", 'size = "NPS 1"', "length_m = 9.0"]
    return "\n".join(lines + runs)


def test_ten_thousand_sound_parts_are_taken_in_well_under_two_seconds():
    """Measured at 0.6 s; the limit leaves room for a slow day."""
    text = many_parts(10_000)
    start = time.process_time()
    assert refusals(text) == []
    assert time.process_time() - start < 2.0


def test_one_part_too_many_is_one_line():
    """No word about the runs of a plant that is not looked at."""
    assert refusals(many_parts(20_001)) == [
        "parts: 20001 parts are more than 20000; split the plant into several files"]


def test_one_run_too_many_is_one_line(monkeypatch):
    """What the parts themselves have wrong is told beside it."""
    monkeypatch.setattr("figures.plant.check.MOST_RUNS", 2)
    assert refusals(PLANT, ("output_kw = 80.0", "output_kw = -1.0")) == [
        "parts.B1.output_kw: -1 is out of range; write a figure from 0.1 to 100000",
        f"runs: {PLANT.count('[[runs]]')} runs are more than 2; split the plant into several files"]


def test_a_sensor_at_a_part_of_unknown_kind_waits_for_that_kind():
    """One slip of the pen, one line: the port may be sound once the kind is."""
    unknown = ('kind = "hydraulic separator"', 'kind = "seperator"')
    assert refusals(PLANT, ('at = "E1"', 'at = "HS.a_supply"'), unknown) == refusals(PLANT, unknown) != []


def test_a_run_has_the_bore_of_its_size_or_its_own():
    """In metres, whichever way the file says it."""
    runs = parse_plant(PLANT).runs
    assert [runs[0].bore, runs[4].bore] == [SIZES["NPS 2"], Bore(0.04, 5e-5)]


def test_a_file_that_is_wrong_throughout_is_told_in_reasonable_time():
    """Ten thousand misspelt tags: looking for near words is bounded."""
    start = time.process_time()
    assert len(refusals(many_parts(5_000).replace("'E", "'F"))) == 4_997
    assert time.process_time() - start < 5.0


def test_a_value_is_shown_short_and_on_one_line():
    """Whatever stood in the file, a message stays one readable line."""
    assert shown("a\nb\x1b") == "'a?b?'"
    assert shown("x" * 10_000) == "'" + "x" * 37 + "…'"
    assert shown(10**5000) == "a huge whole number"
    assert shown({"a": 1}) == "a table"


def test_near_words_are_offered_and_far_ones_listed_where_they_are_few():
    """A mend, not a riddle."""
    assert near("pmup", ["pump", "tee"]) == "did you mean 'pump'?"
    assert near("zzz", ["open", "closed"]) == "known are open, closed"
    assert near("zzz", map(str, range(100))) == ""
