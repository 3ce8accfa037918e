"""The house itself: who imports whom, how long a module is, which words are used.

Every check walks the files, so that a new module is held to the same rules without being listed here.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

HERE = Path(__file__).resolve()
ROOT = HERE.parents[1]
PACKAGE = ROOT / "src" / "clampwright"
LONGEST_MODULE = 400  # lines

GROUND = {"errors", "quantities", "uncertain"}
MIDDLE = {"parts", "faults", "network", "bench", "verdict"}
MAY_IMPORT = {
    "errors": set(),
    "quantities": {"errors"},
    "uncertain": {"errors", "quantities"},
    "physics": GROUND,
    "parts": GROUND | {"physics"},
    "faults": GROUND | {"physics"},
    "network": GROUND | {"physics"},
    "bench": GROUND | {"physics", "parts"},
    "verdict": GROUND | {"physics", "parts", "faults", "network", "bench"},
    "workspace": GROUND | MIDDLE,
    "record": GROUND | MIDDLE,
    "actions": GROUND | MIDDLE | {"physics", "workspace", "record"},
    "web": GROUND | {"actions", "record"},
    "demo": GROUND | {"actions", "record"},
    "cli_answers": GROUND | {"actions"},
    "cli_readings": GROUND | {"actions", "cli_answers"},
    "cli_bench": GROUND | {"actions", "cli_answers"},
    "cli_records": GROUND | {"actions", "record", "cli_answers"},
    "cli_session": GROUND | {"actions", "record", "cli_answers"},
    "cli": GROUND
    | {"actions", "record", "demo", "web"}
    | {"cli_answers", "cli_bench", "cli_readings", "cli_records", "cli_session"},
}  # the picture of the floors in ARCHITECTURE.md; a room may always import itself
FLOOR_OF = {
    **dict.fromkeys(GROUND, 0),
    "physics": 1,
    **dict.fromkeys(("parts", "faults"), 2),
    **dict.fromkeys(("network", "bench"), 3),
    "verdict": 4,
    **dict.fromkeys(("workspace", "record"), 5),
    **dict.fromkeys(("actions",), 6),
    **dict.fromkeys(("web", "demo", "cli", "cli_answers", "cli_bench"), 7),
    **dict.fromkeys(("cli_readings", "cli_records", "cli_session"), 7),
}

MODULES = sorted(PACKAGE.rglob("*.py"))
TREES = {path: ast.parse(path.read_text("utf-8")) for path in MODULES}
IDS = [path.relative_to(PACKAGE).as_posix() for path in MODULES]
EVERY_MODULE = pytest.mark.parametrize("path", MODULES, ids=IDS)


def room_of(path: Path) -> str:
    """The room a module belongs to: the first name below the package, "" for its root."""
    first = path.relative_to(PACKAGE).parts[0]
    return "" if first == "__init__.py" else first.removesuffix(".py")


def imported(path: Path, tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Full name of everything of ours that a module imports, anywhere in it, with the line."""
    inside = ("clampwright", *path.relative_to(PACKAGE).with_suffix("").parts)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name, node.lineno
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(inside[: -node.level]) if node.level else ""
            source = ".".join(filter(None, (base, node.module or "")))
            for name in node.names:
                yield f"{source}.{name.name}", node.lineno


def is_room(name: str) -> bool:
    """Whether a name stands for a module or package directly under ours."""
    return (PACKAGE / name).is_dir() or (PACKAGE / f"{name}.py").is_file()


def test_the_table_lists_every_room() -> None:
    found = {room_of(path) for path in MODULES} - {""}
    assert found <= set(MAY_IMPORT), "a new room needs a line in the table and in ARCHITECTURE.md"
    assert set(MAY_IMPORT) == set(FLOOR_OF)
    for room, others in MAY_IMPORT.items():
        assert all(FLOOR_OF[other] <= FLOOR_OF[room] for other in others), room


@EVERY_MODULE
def test_imports_go_down_the_stairs(path: Path) -> None:
    room, wrong = room_of(path), []
    for name, line in imported(path, TREES[path]):
        if name.split(".")[0] != "clampwright":
            continue
        other = name.split(".")[1] if "." in name else ""
        if not is_room(other):
            wrong.append(f"line {line} imports the package root")
        elif other != room and other not in MAY_IMPORT.get(room, set()):
            wrong.append(f"line {line}: {room or 'the root'} must not import {other}")
    assert not wrong, "; ".join(wrong)


def test_the_walk_sees_imports_inside_functions_and_type_checking() -> None:
    path = PACKAGE / "physics" / "law.py"
    tree = ast.parse(
        "if TYPE_CHECKING:\n    import clampwright\n"
        "def f():\n    from clampwright.verdict import check\n    from ..bench import reduce\n"
    )
    names = {name for name, _ in imported(path, tree)}
    assert names == {"clampwright", "clampwright.verdict.check", "clampwright.bench.reduce"}


@EVERY_MODULE
def test_no_module_is_too_long(path: Path) -> None:
    lines = len(path.read_text("utf-8").splitlines())
    assert lines <= LONGEST_MODULE, f"{lines} lines: split it by topic"


@pytest.mark.parametrize("room", sorted(FLOOR_OF))
def test_every_room_names_its_floor(room: str) -> None:
    path = PACKAGE / room / "__init__.py"
    path = path if path.exists() else PACKAGE / f"{room}.py"
    if not path.exists():
        assert not (PACKAGE / room).exists(), f"{room} has no docstring of its own"
        return
    words = ast.get_docstring(TREES[path]) or ""
    assert re.search(rf"\b[Ff]loor {FLOOR_OF[room]}\b", words), f"{room}: {words!r}"


@EVERY_MODULE
def test_everything_public_has_a_docstring(path: Path) -> None:
    if path.stat().st_size == 0:
        return
    assert ast.get_docstring(TREES[path]), "the module says nothing about itself"
    silent = [f"line {node.lineno}: {node.name}" for node in public(TREES[path])]
    assert not silent, ", ".join(silent)


def public(tree: ast.Module) -> Iterator[ast.FunctionDef | ast.ClassDef]:
    """Public functions, classes and methods without a docstring."""
    waiting = list(tree.body)
    while waiting:
        node = waiting.pop()
        if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
            continue
        if ast.get_docstring(node) is None:
            yield node
        if isinstance(node, ast.ClassDef):
            waiting += node.body


# Words. A bar stands inside a word where this file must not hold the word itself.

AVOIDED = (
    r"\w*s|pice\w*",
    r"sim-\w+",
    r"\w+-cad",
    "stu|dio",
    "work|bench",
    "wiz|ard",
    "explo|rer",
    "navi|gator",
    "tool|kit",
    "net|list",
    "model ca|rd",
    "part ca|rd",
    "de|ck",
    "direct|ive",
    "operating-point anal|ysis",
    "schematic cap|ture",
    "parametric se|arch",
    "design cent|er",
    "photo|mos",
    "poly|switch",
    "poly|fuse",
    "tef|lon",
    "tran|zorb",
)  # they read like existing products or their files, or are trade marks; "meg" is misread as milli
NEVER_NAMED = (
    "seed do|cument",
    r"jo|b\.md",
    r"hou|se\.md",
    r"loo|k\.md",
    r"iss|ue #?\d+",
    "/wo|rk/",
    "/ho|me/",
    "/ro|ot/",
    r"pyp|i\.org",
    r"pythonho|sted\.org",
    r"registry\.np|mjs",
)
HOLDS_A_LIST = "test_record_page.py"  # looks for such words in the printed record
CAUTION = "certified design and independent test"  # what a red gate asks for, not a result
MARKS = re.compile(r"\[(?:S\d+|STD[ \d\w-]*)\]")
PROMISES = re.compile(r"\b(?:safe|certified|guaranteed|foolproof)\b", re.IGNORECASE)
TEXT_ENDINGS = {".py", ".toml", ".md", ".html", ".css", ".js", ".csv", ".json", ".svg", ".lock", ""}
SCANNED = ("src", "tests", "docs", "benchmarks", "tools", ".ci")


def whole_words(patterns: tuple[str, ...]) -> re.Pattern[str]:
    """One pattern for any of these words, in any case."""
    joined = "|".join(pattern.replace("|", "") for pattern in patterns)
    return re.compile(rf"(?<!\w)(?:{joined})(?!\w)", re.IGNORECASE)


def named(patterns: tuple[str, ...]) -> re.Pattern[str]:
    """One pattern for any of these texts wherever they stand."""
    return re.compile("|".join(pattern.replace("|", "") for pattern in patterns), re.IGNORECASE)


def texts() -> Iterator[Path]:
    """Every text file that is ours: of the folders above, and those at the root."""
    loose = [p for p in ROOT.iterdir() if p.is_file() and not p.name.startswith(".")]
    for path in (*loose, *(p for name in SCANNED for p in sorted((ROOT / name).rglob("*")))):
        caches = {"__pycache__", ".hypothesis"} & set(path.parts)
        if path.is_file() and path.suffix in TEXT_ENDINGS and not caches:
            yield path


def found_in_texts(pattern: re.Pattern[str], exempt: tuple[str, ...] = ()) -> list[str]:
    """Where a pattern occurs, as `file:line: text`."""
    return [
        f"{path.relative_to(ROOT)}:{number}: {match[0]}"
        for path in texts()
        if path.name not in exempt
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if (match := pattern.search(line))
    ]


def test_words_of_other_products_are_not_used() -> None:
    assert not found_in_texts(whole_words(AVOIDED), exempt=(HOLDS_A_LIST,))


def test_no_machine_path_registry_or_source_mark_is_named() -> None:
    assert not found_in_texts(named(NEVER_NAMED))
    assert not found_in_texts(MARKS)


def test_the_word_patterns_find_what_they_look_for() -> None:
    """A pattern that matches nothing would let everything pass."""
    for pattern in AVOIDED:
        plain = pattern.replace("|", "").replace(r"\w*", "x").replace(r"\w+", "x")
        assert whole_words(AVOIDED).search(f"a {plain} b"), pattern
    for pattern in NEVER_NAMED:
        plain = re.sub(r"\(\?:(\w+)\|[^)]*\)", r"\1", pattern).replace("|", "")
        plain = plain.replace("#?", "").replace(r"\d+", "7").replace("\\", "")
        assert named(NEVER_NAMED).search(f"a {plain} b"), pattern
    assert MARKS.search("as in [S" + "9]")
    assert PROMISES.search("It is Safe.") and not PROMISES.search("safety")


def test_the_program_promises_nothing() -> None:
    """Words that a result must never print, in any text the program may show (not in docstrings)."""
    wrong = []
    for path, tree in TREES.items():
        silent = {
            id(node.value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        }
        for node in ast.walk(tree):
            is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
            shown = is_text and id(node) not in silent
            if shown and PROMISES.search(node.value.replace(CAUTION, "")):
                wrong.append(f"{path.relative_to(ROOT)}:{node.lineno}: {node.value[:60]}")
    for path in PACKAGE.rglob("*.html"):
        prose = re.sub(r"\{[{%].*?[%}]\}", "", path.read_text("utf-8"), flags=re.DOTALL)
        wrong += [f"{path.name}: {m}" for m in PROMISES.findall(prose.replace(CAUTION, ""))]
    assert not wrong


def test_the_lock_names_no_host() -> None:
    lock = (ROOT / "requirements.lock").read_text("utf-8")
    assert "://" not in lock
    assert not re.search(r"^\s*-(?!-hash=)", lock, re.MULTILINE), "only pins and hashes"
    pinned = {name.lower() for name in re.findall(r"^([\w.-]+)==", lock, re.MULTILINE)}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    wanted = project["project"]["dependencies"] + project["dependency-groups"]["test"]
    for requirement in wanted:
        assert re.split(r"[>=<[]", requirement)[0].lower() in pinned
    pins = re.findall(r"^\S+==.*(?:\n    --hash=sha256:[0-9a-f]{64}.*)+", lock, re.MULTILINE)
    assert len(pins) == len(re.findall(r"^\S+==", lock, re.MULTILINE)), "every pin has its hashes"
