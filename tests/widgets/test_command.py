"""The command line: every command has help, says what is wrong in plain words, and exits as it should."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from figures.drawing.paint import LAYERS
from figures.plant import KINDS, parse_plant, read_plant
from figures.plant.scheme import ARRANGEMENTS, Scheme
from figures.reading import CONFIGURATIONS, read
from tests.figures.plant.faulty import PLANT
from tests.plants import FIXED, SAMPLES, expected
from widgets import command
from widgets.command import COMMANDS, main

README = Path(__file__).parents[2] / "README.md"
SOUND = str(next(path for path in SAMPLES if path.stem == "tees-one-boiler"))
WRONG = str(next(path for path in SAMPLES if path.stem == "tees-no-relief-pump-reversed"))


@pytest.fixture
def bad(tmp_path) -> str:
    """A plant file with two faults."""
    path = tmp_path / "bad.toml"
    path.write_text(PLANT.replace('"NPS 2"', '"NPS2"'), encoding="utf-8")
    return str(path)


def rows(printed: str) -> list[dict]:
    """The JSON objects of an output, one a line."""
    return [json.loads(line) for line in printed.splitlines()]


def process(*words: str, **named) -> subprocess.CompletedProcess:
    """The command line in a process of its own."""
    return subprocess.run([sys.executable, "-m", "widgets.command", *words], capture_output=True, timeout=60,
                          cwd=README.parent, **named)


# -- help, and mistakes in the words ---------------------------------------------------------------------

@pytest.mark.parametrize("name", [None, *COMMANDS])
def test_every_command_has_help_and_exits_0(name, capsys):
    """Help goes to standard output and names the flags."""
    assert main([name, "--help"] if name else ["--help"]) == 0
    printed = capsys.readouterr()
    assert printed.out.startswith("usage: loopbook")
    assert "-h, --help" in printed.out
    assert printed.err == ""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_readme(name):
    """A command that nobody is told of does not exist."""
    assert f"loopbook {name}" in README.read_text(encoding="utf-8")


def test_the_plant_file_in_the_readme_is_sound_and_read():
    """What a newcomer copies first works."""
    [text] = re.findall(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    seen = read(parse_plant(text))
    assert (seen.arrangement, seen.control) == ("single loop", "heating only")
    assert [finding.rule for finding in seen.findings if finding.severity == "must fix"] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_every_flag_says_what_it_does(name):
    """No flag without a word of help."""
    parser = command._Parser()
    command._flags.add(name, parser)
    assert [action.dest for action in parser._actions if not action.help] == []


@pytest.mark.parametrize(("words", "says"), [
    ([], "loopbook: the following arguments are required: COMMAND; `loopbook --help` tells more"),
    (["reed"], "did you mean 'read'?"),
    (["read"], "loopbook read: the following arguments are required: PLANT; `loopbook read --help` tells more"),
    (["read", SOUND, "--jsn"], "loopbook read: '--jsn' is not understood here; did you mean '--json'?"),
    (["read", SOUND, "--units", "imperial"], "argument --units: invalid choice: 'imperial'"),
    (["make", "--boilers", "two"], "argument --boilers: 'two' is no whole number from 0 to 100"),
    (["make", "--tank", "attic"], "argument --tank: 'attic' is not known; use one of none, system loop, boiler loop"),
    (["make", "--coil-kw", "nan"], "argument --coil-kw: 'nan' is no figure"),
    (["make", "--arrangement", "single loop", "--tank", "boiler loop"],
     "loopbook make: a tank on the boiler loop needs separated loops"),
    (["make", "--seed", "3", "--lead", "2"], "loopbook make: --lead: not beside --seed"),
    (["make", "--size", "small"], "loopbook make: --control and --size choose among random plants"),
    (["parts", "radiatr"], "loopbook parts: 'radiatr' is no kind of part"),
    (["solve", SOUND, "--speed", "PS"], "argument --speed: 'PS' is no setting; write for example P1=0.8"),
    (["operate", SOUND, "--call", "heat"], "the following arguments are required: --as"),
    (["operate", SOUND, "--call", "heat", "--as", "summer"], "argument --as: 'summer' is not known; use one of heating only"),
    (["draw", SOUND, SOUND], "loopbook draw: say with --out where the drawings go"),
    (["draw", SOUND, "--out", "plant.bmp"], "--out plant.bmp: write a name that ends in .svg, .png or .pdf"),
    (["re\x1b[31mad"], "invalid choice: 're\\x1b[31mad'"),
    (["make", "--fault", "\x1b[31m"], "'?[31m' is not known; use one of"),
    (["make", "--seed", "4", "--fault", "lead-boilr"], "'lead-boilr' is not known; did you mean 'lead-boiler'?"),
])
def test_a_mistake_is_one_line_and_exit_2(words, says, capsys):
    """On stderr, with the command's name, what is wrong, and what to write or where to look."""
    assert main(words) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert len(printed.err.splitlines()) == 1
    assert says in printed.err
    assert not re.search(r"[\x00-\x09\x0b-\x1f]", printed.err)


# -- read ------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_each_sample_reads_as_expected(path, capsys):
    """Every key that the sample fixes, the rules that fire, and the exit that they give."""
    code = main(["read", "--json", str(path)])
    [row] = rows(capsys.readouterr().out)
    wanted = expected(path)
    rules = wanted.pop("rules")
    assert {key: row[key] for key in wanted} == wanted
    assert sorted({finding["rule"] for finding in row["findings"]} & FIXED) == rules
    assert code == (1 if any(finding["severity"] == "must fix" for finding in row["findings"]) else 0)
    assert set(row) == {"file", "title", "arrangement", "separations", "loops", "dhw", "control", "dhw_priority",
                        "boilers", "lead", "return", "evidence", "findings"}


def test_many_plants_are_read_in_the_order_given_and_the_worst_exit_wins(bad, capsys):
    """A bad file gets its refusals on its own line and on stderr; 2 beats 1 beats 0."""
    assert main(["read", "--json", SOUND, bad, WRONG, "nowhere.toml"]) == 2
    printed = capsys.readouterr()
    assert [row["file"] for row in rows(printed.out)] == [SOUND, bad, WRONG, "nowhere.toml"]
    assert [set(row) == {"file", "refusals"} for row in rows(printed.out)] == [False, True, False, True]
    assert printed.err.splitlines() == [
        f"{bad}: runs[0].size: B1>A: 'NPS2' is no size; did you mean 'NPS 2'?",
        f"{bad}: runs[2].size: A>HS: 'NPS2' is no size; did you mean 'NPS 2'?",
        "nowhere.toml: no such file; mend the path"]
    assert rows(printed.out)[3]["refusals"] == ["no such file; mend the path"]
    assert main(["read", "--json", SOUND, WRONG]) == 1
    assert main(["read", "--json", SOUND]) == 0


def test_a_reading_for_people_has_all_that_the_json_has(capsys):
    """Arrangement, separation, loops, DHW, configuration, priority, boilers, return, evidence, findings, caution."""
    assert main(["read", WRONG]) == 1
    words = " ".join(capsys.readouterr().out.split())
    main(["read", "--json", WRONG])
    [row] = rows(capsys.readouterr().out)
    for key in ("title", "arrangement", "dhw_priority", "return", "control"):
        assert row[key] in words
    for sentence in row["evidence"]:
        assert sentence in words
    for finding in row["findings"]:
        assert f"{finding['severity']}: {finding['says']} [{finding['rule']}] Mend: {finding['fix']}" in words
    for separation in row["separations"]:
        assert f"{separation['kind']}: {', '.join(separation['parts'])}" in words
    for loop in row["loops"]:
        assert f"{loop['role'].capitalize()} {', '.join(loop['parts'])}" in words
    assert "local codes" in words
    assert "licensed people prevail" in words


def test_figures_are_shown_in_the_units_asked_for(capsys):
    """100 kW is 341 000 Btu/h."""
    main(["read", SOUND])
    assert "B1 100 kW" in capsys.readouterr().out
    main(["read", SOUND, "--units", "us"])
    assert "B1 341 000 Btu/h" in capsys.readouterr().out


def test_a_plant_is_read_from_standard_input():
    """So that `make` can be piped into `read`."""
    made = process("make", "--seed", "11")
    told = process("read", "--json", "-", input=made.stdout)
    assert (made.returncode, told.returncode) == (0, 0)
    assert json.loads(told.stdout)["control"] == Scheme.random(11).expected()["control"]
    wrong = process("read", "-", input=b"format = 1\nx =")
    assert wrong.returncode == 2
    assert wrong.stderr.decode().startswith("standard input: line 2, at its end: is not TOML")


def test_nothing_of_a_file_reaches_the_terminal_raw(tmp_path, capsys):
    """Control characters in names, tags, keys and values are shown as '?'."""
    path = tmp_path / "a\x1b[31mb.toml"
    path.write_text(PLANT.replace("rated_m = 4.0", '"x\\u001b[2J" = "\\u009b"').replace("Weir", "\\u202eWeir"))
    assert main(["read", str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]", printed.err)


# -- make and parts --------------------------------------------------------------------------------------

def test_a_made_plant_is_what_the_seed_says(capsys):
    """The same for the same seed, and the file reads back as the scheme's plant."""
    assert main(["make", "--seed", "41"]) == 0
    first = capsys.readouterr().out
    main(["make", "--seed", "41"])
    assert capsys.readouterr().out == first
    assert parse_plant(first) == Scheme.random(41).plant()


def test_a_made_plant_is_what_the_flags_say(capsys):
    """A flag for each thing that a layout can say, in words with spaces, hyphens or underscores."""
    assert main(["make", "--boilers", "2", "--separation", "hydraulic-separator", "--tank", "boiler_loop",
                 "--tank-by", "diverting valve", "--return-order", "direct", "--lead", "2", "--outputs-kw", "80,120",
                 "--emitters", "2", "--title", "Weir Lane", "--sensors", "system supply,outdoor", "--condensing"]) == 0
    assert parse_plant(capsys.readouterr().out) == Scheme(
        boilers=2, separation="hydraulic separator", tank="boiler loop", tank_by="diverting valve",
        return_order="direct", lead=2, outputs_kw=(80.0, 120.0), emitters=2, title="Weir Lane",
        sensors=("system supply", "outdoor"), condensing=True).plant()


def test_what_a_made_plant_was_built_to_be_is_what_it_reads_as(capsys, tmp_path):
    """`make --json` gives the expectation beside the file's text."""
    main(["make", "--seed", "5", "--json"])
    [made] = rows(capsys.readouterr().out)
    path = tmp_path / "made.toml"
    path.write_text(made["toml"], encoding="utf-8")
    main(["read", "--json", str(path)])
    [row] = rows(capsys.readouterr().out)
    assert {key: row[key] for key in made["expected"]} == made["expected"]
    assert row["title"] == made["title"]


def test_make_never_writes_over_a_file_unless_forced(tmp_path, capsys):
    """What stands there stays, and the line says how to have it otherwise."""
    path = tmp_path / "plant.toml"
    assert main(["make", "--seed", "1", "--out", str(path)]) == 0
    first = path.read_bytes()
    assert main(["make", "--seed", "2", "--out", str(path)]) == 2
    assert capsys.readouterr().err == f"loopbook make: {path}: is there already; --force writes over it\n"
    assert path.read_bytes() == first
    assert main(["make", "--seed", "2", "--out", str(path), "--force"]) == 0
    assert read_plant(path) == Scheme.random(2).plant()
    assert main(["make", "--seed", "1", "--out", str(tmp_path / "no" / "x.toml")]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_a_fault_on_purpose_is_what_the_reading_finds(capsys, tmp_path):
    """`--fault` builds it in, beside a layout or a seed."""
    path = tmp_path / "faulty.toml"
    assert main(["make", "--boilers", "2", "--fault", "lead-boiler", "--out", str(path)]) == 0
    main(["read", "--json", str(path)])
    assert "lead-boiler" in [finding["rule"] for finding in rows(capsys.readouterr().out)[0]["findings"]]


def test_parts_lists_every_kind_with_units_defaults_and_ranges(capsys):
    """One JSON object a kind, or a table that a person can read."""
    assert main(["parts", "--json"]) == 0
    assert [row["kind"] for row in rows(capsys.readouterr().out)] == list(KINDS)
    assert main(["parts"]) == 0
    table = capsys.readouterr().out
    for kind in KINDS.values():
        assert f"{kind.name}: {kind.says}" in " ".join(table.split())
        for key in kind.keys:
            assert key.name in table
    assert re.search(r"shutoff_m +6 m +0\.01 m to 1 000 m", table)
    assert "NPS 2-1/2" in table
    assert main(["parts", "pump", "--units", "us"]) == 0
    assert re.search(r"shutoff_m +19\.7 ft", capsys.readouterr().out)


# -- draw ------------------------------------------------------------------------------------------------

def test_one_plant_is_drawn_to_standard_output(capsys):
    """As SVG, every part and pipe with its tag."""
    assert main(["draw", SOUND]) == 0
    svg = ElementTree.fromstring(capsys.readouterr().out)
    tags = {group.get("data-tag") for group in svg.iter() if group.get("data-tag")}
    assert set(read_plant(SOUND).parts) <= tags


@pytest.mark.parametrize(("ending", "start"), [("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")])
def test_a_drawing_is_saved_in_the_format_of_its_name(ending, start, tmp_path, capsys):
    """The file, and one line that says so; with --json the description for those who cannot see it."""
    path = tmp_path / f"plant.{ending}"
    assert main(["draw", "--json", SOUND, "--out", str(path)]) == 0
    [row] = rows(capsys.readouterr().out)
    assert (row["file"], row["out"]) == (SOUND, str(path))
    assert row["description"]
    assert path.read_bytes().startswith(start)


def test_many_plants_are_drawn_into_a_folder_one_file_each(tmp_path, bad, capsys):
    """Two plants of the same name do not write over each other, and a bad one does not stop the rest."""
    folder = tmp_path / "drawn"
    assert main(["draw", SOUND, bad, SOUND, WRONG, "--out", str(folder), "--findings"]) == 2
    assert sorted(path.name for path in folder.iterdir()) == sorted(
        ["tees-one-boiler.svg", "tees-one-boiler-2.svg", "tees-no-relief-pump-reversed.svg"])
    assert len(capsys.readouterr().out.splitlines()) == 3


def test_evidence_is_marked_on_the_drawing(capsys):
    """What shows the separation is lit up; a name that the plant has not is refused."""
    main(["draw", SOUND])
    bare = capsys.readouterr().out
    assert main(["draw", SOUND, "--evidence", "arrangement"]) == 0
    assert capsys.readouterr().out != bare
    assert main(["draw", SOUND, "--highlight", "NONE"]) == 2
    assert "NONE" in capsys.readouterr().err


def test_the_flags_know_the_names_that_other_rooms_fix():
    """They are written out there so that a bare start opens no room; here they are held to what is so."""
    assert command._flags.LAYERS == LAYERS
    assert command._flags.CONFIGURATIONS == CONFIGURATIONS
    assert command._flags.ARRANGEMENTS == ARRANGEMENTS
    abouts = {reason.about for path in SAMPLES for reason in read(read_plant(path)).evidence}
    assert abouts <= set(command._flags.EVIDENCE)


# -- solve and operate -----------------------------------------------------------------------------------

def test_solve_prints_parts_nodes_runs_and_warnings(capsys):
    """Flow is signed along the run, runs stand in file order, and a pump that is off moves nothing."""
    assert main(["solve", "--json", SOUND, "--off", "PS", "--off", "PB1"]) == 0
    [row] = rows(capsys.readouterr().out)
    assert set(row) == {"file", "parts", "nodes", "runs", "warnings"}
    assert [run["through"] for run in row["runs"]] == [list(run.through) for run in read_plant(SOUND).runs]
    assert abs(row["parts"]["PS"]["flow_lps"]) < 1e-6
    assert main(["solve", SOUND, "--units", "us"]) == 0
    assert re.search(r"PS +pump +[\d.]+ gpm +[\d.]+ °F", capsys.readouterr().out)


def test_a_state_that_cannot_be_set_is_bad_input(capsys):
    """Each fault on a line of its own, with the file."""
    assert main(["solve", "--json", SOUND, "--off", "E1", "--shut", "NONE"]) == 2
    printed = capsys.readouterr()
    assert len(printed.err.splitlines()) == 2
    assert len(rows(printed.out)[0]["refusals"]) == 2


def test_a_solve_without_an_answer_exits_3_and_names_the_part(monkeypatch, capsys, bad):
    """3 is worse than 0 and better than 2."""
    import figures.physics as physics

    def no_answer(*_args):
        raise physics.NoSolution("V3", "No way back to B1 while V3 is shut.")
    monkeypatch.setattr(physics, "solve", no_answer)
    assert main(["solve", "--json", SOUND]) == 3
    printed = capsys.readouterr()
    assert printed.err == f"{SOUND}: V3: No way back to B1 while V3 is shut.\n"
    assert rows(printed.out) == [{"file": SOUND, "no_solution": ["V3: No way back to B1 while V3 is shut."]}]
    assert main(["solve", "--json", SOUND, bad]) == 2


def test_operate_tells_what_a_wrong_setting_does(capsys):
    """A tank on the boiler loop that the control takes for one on the system loop: the system pump runs on a DHW call."""
    plant = str(next(path for path in SAMPLES if path.stem == "tees-tank-on-boiler"))
    assert main(["operate", "--json", plant, "--as", "DHW on the boiler loop", "--call", "dhw"]) == 0
    assert main(["operate", "--json", plant, "--as", "dhw-on-the-system-loop", "--call", "dhw"]) == 0
    right, wrong = rows(capsys.readouterr().out)
    assert {"file", "configuration", "arrangement", "call", "running", "open", "loads", "solve", "warnings"} <= set(wrong)
    assert ("PS" in right["running"], "PS" in wrong["running"]) == (False, True)
    assert set(wrong["loads"][0]) == {"part", "wanted_kw", "given_kw", "flow_lps", "still", "because"}
    assert main(["operate", plant, "--as", "heating only", "--call", "dhw", "--units", "us"]) == 0
    words = capsys.readouterr().out
    for load in wrong["loads"]:
        assert f"{load['part']}: " in words
    assert "Btu/h" in words


def test_a_setting_that_does_not_exist_is_bad_input(capsys):
    """More boilers than the plant has."""
    assert main(["operate", "--json", SOUND, "--as", "heating only", "--call", "heat", "--boilers", "9"]) == 2
    printed = capsys.readouterr()
    assert len(printed.err.splitlines()) == 1
    assert rows(printed.out)[0]["refusals"]


# -- the process -----------------------------------------------------------------------------------------

def test_output_that_is_piped_is_utf_8_whatever_the_locale():
    """Umlauts, dashes and degrees survive."""
    env = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONIOENCODING": "latin-1", "PYTHONCOERCECLOCALE": "0"}
    done = process("parts", "pump", env=env)
    assert (done.returncode, done.stderr) == (0, b"")
    assert "m³/h" in done.stdout.decode("utf-8")


def test_a_reader_that_has_had_enough_is_no_error():
    """`loopbook parts | head -1` ends quietly."""
    with subprocess.Popen([sys.executable, "-m", "widgets.command", "read", "--json", *[SOUND] * 200],
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=README.parent) as child:
        assert child.stdout.readline().startswith(b"{")
        child.stdout.close()
        assert child.stderr.read() == b""
        assert child.wait(60) == 0


def test_ctrl_c_stops_without_a_traceback(monkeypatch, capsys):
    """One word on stderr, and the exit that shells give to an interrupted command."""
    def interrupted(_options):
        raise KeyboardInterrupt
    monkeypatch.setitem(command.COMMANDS, "parts", (interrupted, "list the kinds"))
    assert main(["parts"]) == 130
    assert capsys.readouterr().err == "\nloopbook parts: stopped\n"


def test_a_bare_start_opens_no_room_that_it_does_not_need():
    """`loopbook --help` imports neither numpy nor any drawing; that is what keeps it quick."""
    code = ("import sys; from widgets.command import main; main(['--help']); "
            "print([m for m in ('numpy', 'schemdraw', 'ipywidgets', 'matplotlib', 'figures.reading') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, cwd=README.parent)
    assert done.stdout.splitlines()[-1] == "[]"


def test_draw_takes_sizes_ink_and_what_is_missing(tmp_path, capsys):
    """Black ink names no colour of the palette; a blank drawing shows no tags; a ghost is there where a part is missing."""
    plant = str(Path(__file__).parents[1] / "plants" / "tees-no-relief-pump-reversed.toml")
    drawn = {}
    for name, flags in {"plain": [], "black": ["--ink", "black"], "blank": ["--blank"], "missing": ["--missing"]}.items():
        assert main(["draw", plant, *flags]) == 0
        drawn[name] = capsys.readouterr().out
    assert ">PS<" in drawn["plain"] and ">PS<" not in drawn["blank"]
    assert len({*drawn.values()}) == 4
    assert main(["draw", plant, "--size", "wall"]) == 2
