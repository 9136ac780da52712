"""The rooms of the tree: who may know whom, what may stand where, and that lint and types hold."""

import ast
import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]
SOURCES = sorted(path for room in ("figures", "widgets") for path in (TOP / room).rglob("*.py"))
TESTS = sorted((TOP / "tests").rglob("*.py"))
MODULES = {".".join(path.relative_to(TOP).with_suffix("").parts).removesuffix(".__init__"): path for path in SOURCES}

# Each room, and the rooms that it may know beside itself. The first that fits a module is its room.
ARROWS = {
    "figures.plant": (),
    "figures.reading": ("figures.plant",),
    "figures.physics": ("figures.plant", "figures.reading"),
    "figures.drawing": ("figures.plant", "figures.reading"),
    "figures": ("figures",),
    "widgets.learn": ("figures",),
    "widgets.paper": ("figures", "widgets.learn"),
    "widgets.show": ("figures", "widgets.learn"),
    "widgets.serve": ("figures", "widgets.learn", "widgets.paper", "widgets.show"),
    "widgets": ("figures", "widgets"),
}
WIDGET_LIBRARIES = {"ipywidgets", "anywidget", "traitlets", "IPython"}
TESTS_ONLY = {"networkx", "scipy", "pandas", "fluids", "iapws", "wntr", "hypothesis", "pytest", "tests", "lessons"}


def room_of(module: str) -> str:
    """The room that a module stands in."""
    return next(room for room in ARROWS if module == room or module.startswith(room + "."))


def imports(module: str, path: Path, at_start_only: bool = False) -> Iterator[str]:
    """Full names of what a module imports; with `at_start_only` no more than what runs when it is imported."""
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    todo: list[ast.AST] = [ast.parse(path.read_text(encoding="utf-8"))]
    while todo:
        node = todo.pop()
        if at_start_only and isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if at_start_only and isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            todo += node.orelse
            continue
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package.split(".")[:len(package.split(".")) - node.level + 1] if node.level else []
            source = ".".join([*base, *([node.module] if node.module else [])])
            for name in node.names:
                inner = f"{source}.{name.name}"
                yield inner if inner in MODULES else source
        todo += ast.iter_child_nodes(node)


def test_the_arrows_between_rooms_run_one_way():
    """Every import, those inside functions and those for types included, goes where the design lets it."""
    wrong = []
    for module, path in MODULES.items():
        room = room_of(module)
        for name in imports(module, path):
            if name.partition(".")[0] in ("figures", "widgets"):
                other = room_of(name)
                known = any(other == allowed or other.startswith(allowed + ".") for allowed in (room, *ARROWS[room]))
                if not known:
                    wrong.append(f"{module} knows {name}")
    assert wrong == []


def test_no_import_comes_round_to_where_it_began():
    """What runs on import has an order; names that are only for types, or fetched late, do not count."""
    graph = {module: {name for name in imports(module, path, at_start_only=True) if name in MODULES}
             for module, path in MODULES.items()}
    try:
        order = list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        pytest.fail(" → ".join(error.args[1]))
    assert set(order) == set(MODULES)


def test_figures_and_learn_know_no_widget_library():
    """Drawings, numbers and marks work without a notebook."""
    wrong = [f"{module} imports {name}" for module, path in MODULES.items()
             if module.startswith(("figures", "widgets.learn")) for name in imports(module, path)
             if name.partition(".")[0] in WIDGET_LIBRARIES]
    assert wrong == []


def test_what_only_tests_need_is_not_needed_to_learn():
    """Libraries of the `test` extra, and the tests themselves, are never imported by figures or widgets."""
    wrong = [f"{module} imports {name}" for module, path in MODULES.items() for name in imports(module, path)
             if name.partition(".")[0] in TESTS_ONLY]
    assert wrong == []


def test_every_library_that_is_imported_is_declared():
    """A bare install has all that figures and widgets import."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = {re.match(r"[A-Za-z0-9_.-]+", line)[0].replace("-", "_") for line in project["dependencies"]}
    brought_along = {"traitlets", "IPython"}     # ipywidgets is built on both
    imported = {name.partition(".")[0] for module, path in MODULES.items() for name in imports(module, path)}
    ours = {"figures", "widgets", "__future__"}
    assert imported - set(sys.stdlib_module_names) - ours - declared - brought_along == set()


def test_importing_figures_and_widgets_loads_no_plotting_library():
    """Not even when every name that they offer is fetched: lessons open quickly and fit a small machine."""
    code = """
import json, sys
import figures, widgets
for room in (figures, widgets):
    for name in room.__all__:
        getattr(room, name)
print(json.dumps([m for m in ("matplotlib", "matplotlib.pyplot", "scipy", "pandas", "networkx")
                  if sys.modules.get(m) is not None]))
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=TOP, capture_output=True, text=True, timeout=120)
    assert done.stderr == ""
    assert json.loads(done.stdout) == []


def test_a_bare_import_is_quick():
    """The best of five, in seconds of this process's work: 0.4 s is what a lesson may cost, a bare import far less."""
    code = "import time; t = time.process_time(); import figures, widgets; print(time.process_time() - t)"
    seconds = [float(subprocess.run([sys.executable, "-c", code], cwd=TOP, capture_output=True, text=True, timeout=60,
                                    check=True).stdout) for _ in range(5)]
    assert min(seconds) < 0.4


def test_nothing_stands_at_the_top_but_what_was_agreed():
    """Hidden entries, and what building and running leave behind, do not count."""
    left_behind = re.compile(r"\.|__pycache__$|build$|dist$|.*\.egg-info$")
    seen = {path.name for path in TOP.iterdir() if not left_behind.match(path.name)}
    assert seen == {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "figures", "widgets", "lessons", "tests"}


def test_no_file_outgrows_its_reader():
    """At most 450 lines; a longer one is two rooms."""
    long = {str(path.relative_to(TOP)): lines for path in [*SOURCES, *TESTS]
            if (lines := path.read_text(encoding="utf-8").count("\n")) > 450}
    assert long == {}


def test_every_folder_of_tests_is_a_package():
    """Or `tests/figures` would stand in for `figures`."""
    folders = {path.parent for path in TESTS}
    assert [str(folder) for folder in folders if not (folder / "__init__.py").is_file()] == []


# Built from halves, so that this file does not find itself.
WORDS = {
    "a loop named primary or secondary": r"(?i)\b(prim" r"ary|second" r"ary) loop\b",
    "a numbered mode": r"(?i)\bmode\s*[1" r"23]\b",
}
LEFT_OVER = {
    "unfinished": r"\b(TO" r"DO|FIX" r"ME|XX" r"X)\b|NotImplemented" r"Error",
    "a machine's path": r"(?<![\w.])/(wo" r"rk|fa" r"rm|ro" r"ot|op" r"t)/|/tm" r"p/[a-z]",
    "a swallowed error": r"except( Exception)?:\s*(pa" r"ss)?$",
}


def found(pattern: str, *files: Path) -> list[str]:
    """Where a pattern is met."""
    return [f"{path.relative_to(TOP)}: {line[0]}" for path in files
            for line in re.finditer(pattern, path.read_text(encoding="utf-8"), re.MULTILINE)]


@pytest.mark.parametrize("what", LEFT_OVER)
def test_nothing_is_left_over_in_the_tree(what):
    """Source, tests and papers hold no such line."""
    assert found(LEFT_OVER[what], *SOURCES, *TESTS, *sorted(TOP.glob("*.md")), *sorted(TOP.glob("tests/**/*.toml"))) == []


@pytest.mark.parametrize("what", WORDS)
def test_loops_are_named_by_what_they_serve(what):
    """Two people rarely mean the same loop by these words, and numbered settings belong to one maker's control."""
    assert found(WORDS[what], *SOURCES, *sorted(TOP.glob("*.md"))) == []


@pytest.mark.parametrize("tool", [("ruff", "check", "--output-format=concise", "."), ("mypy",)], ids=lambda tool: tool[0])
def test_lint_and_types_hold(tool):
    """Both with the settings of pyproject.toml."""
    done = subprocess.run([sys.executable, "-m", *tool], cwd=TOP, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ci_runs_what_the_readme_tells_a_newcomer_to_run():
    """The same install and the same test command; a README that nobody runs goes stale."""
    readme = (TOP / "README.md").read_text(encoding="utf-8")
    script = (TOP / ".ci" / "run").read_text(encoding="utf-8")
    [command] = re.findall(r"^python3 -m venv \.venv && \.venv/bin/pip install (-e \S+) && \.venv/bin/python (.*)$", readme,
                           re.MULTILINE)
    assert f"pip\" install --quiet --disable-pip-version-check {command[0]}" in script
    assert script.rstrip().endswith(f"python\" {command[1]}")
    assert "set -euo pipefail" in script


def test_every_picture_and_page_that_the_papers_point_to_is_there():
    """Links inside the tree lead somewhere."""
    missing = [f"{paper.name}: {target}" for paper in sorted(TOP.glob("*.md"))
               for target in re.findall(r"\]\(([^)#:]+)\)", paper.read_text(encoding="utf-8"))
               if not (TOP / target).is_file()]
    assert missing == []
