"""The shape of the project: short modules, words where they belong, nothing of anybody's machine."""

import ast
import re
import subprocess
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "src" / "sidetrip"
MODULES = sorted(PACKAGE.rglob("*.py"))
TESTS = sorted(path for path in (ROOT / "tests").rglob("*.py"))
LONGEST_MODULE = 400
NOT_PACKAGES = {"desks", "templates", "static", "__pycache__"}
CONSTRAINTS = ROOT / "constraints.txt"

# Put together from parts, so that this file does not hold what it forbids.
_FOLDERS = "|".join(("work", "root", "home", "tmp", "Users"))
_HOSTS = "|".join(("pypi" + r"\.org", "pythonhosted" + r"\.org", "deb" + r"\.debian\.org", "registry" + r"\.npmjs"))
FORBIDDEN = {
    "a path on somebody's machine": re.compile(rf"(?<![\w.~)\]}}-])/(?:{_FOLDERS})/"),
    "a host of a package registry": re.compile(_HOSTS, re.IGNORECASE),
}
_UPWARDS = re.compile(r"(?<![\w./])(?:\.\./)+")


def offences(text: str, depth: int) -> Iterator[str]:
    """Yield "line: what" for all that a text of the project must not hold.

    depth: how many folders of the checkout lie above what the text's relative paths start from.
    """
    for number, line in enumerate(text.splitlines(), 1):
        for what, pattern in FORBIDDEN.items():
            if pattern.search(line):
                yield f"{number}: {what}"
        if any(len(climb.group()) // len("../") > depth for climb in _UPWARDS.finditer(line)):
            yield f"{number}: a path that leaves the checkout"


def printing(tree: ast.AST) -> Iterator[int]:
    """Yield the lines on which print is named: called or handed on, it is the same."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and node.id == "print":
            yield node.lineno


def untold(tree: ast.AST) -> Iterator[str]:
    """Yield the names of test functions that do not say what they test."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        if node.name.startswith("test") and not ast.get_docstring(node):
            yield node.name


def unpackaged(root: Path) -> Iterator[str]:
    """Yield the folders that hold modules or packages, but no __init__.py."""
    for folder in [root, *sorted(path for path in root.rglob("*") if path.is_dir())]:
        inside = folder.relative_to(root).parts
        empty = not any(path.is_file() for path in folder.rglob("*"))
        if not empty and NOT_PACKAGES.isdisjoint(inside) and not (folder / "__init__.py").is_file():
            yield "/".join(inside) or "."


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_a_module_is_short_and_says_what_it_is(path: Path) -> None:
    """At most 400 lines, and a docstring at the top."""
    text = path.read_text("utf-8")
    assert len(text.splitlines()) <= LONGEST_MODULE
    assert ast.get_docstring(ast.parse(text)), "no docstring"


def test_only_the_command_line_prints() -> None:
    """Everything else returns what it has to say."""
    prints = [
        f"{_named(path)}:{line}"
        for path in MODULES
        if path.relative_to(PACKAGE).parts[0] != "cli"
        for line in printing(_tree(path))
    ]
    assert prints == []


def test_every_test_says_what_it_tests() -> None:
    """Each test function carries a docstring."""
    silent = [f"{_named(path)}: {name}" for path in TESTS for name in untold(_tree(path))]
    assert silent == []


def test_every_package_is_one() -> None:
    """Folders with modules have an __init__.py; desks, templates and static files are data."""
    assert list(unpackaged(PACKAGE)) == []


def test_no_file_tells_of_a_machine() -> None:
    """No absolute path of a person's or a server's, no registry's host, no way out of the checkout."""
    found = [
        f"{_named(path)}:{offence}"
        for path in _tracked()
        if (text := _text(path)) is not None
        # A link in a page starts from the page; a path in a script without a suffix from where it is run.
        for offence in offences(text, depth=len(path.relative_to(ROOT).parts) - 1 if path.suffix else 0)
    ]
    assert found == []


def test_constraints_name_no_address() -> None:
    """Every line is a comment or an exact pin; where packages come from is each machine's own affair."""
    text = CONSTRAINTS.read_text("utf-8")
    assert "://" not in text
    odd = [line for line in text.splitlines() if not re.fullmatch(r"#.*|[\w.-]+==[\w.!+]+", line)]
    assert odd == []


def test_constraints_pin_what_is_asked_for() -> None:
    """Each direct dependency is pinned, inside the range that pyproject.toml allows."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    assert list(_badly_pinned(asked, CONSTRAINTS.read_text("utf-8"))) == []


@pytest.mark.parametrize(
    ("text", "depth"),
    [
        ("see /" + "home/ann/show.yaml", 5),
        ("cd '/" + "work/main'", 5),
        ("`/" + "tmp/x`", 5),
        ("--index https://pypi" + ".org/simple", 5),
        ("see [it](../" + "../README.md)", 1),
        ("cp ../" + "elsewhere/x .", 0),
    ],
)
def test_an_offence_is_found(text: str, depth: int) -> None:
    """The search finds what it is for: a search that finds nothing would pass too."""
    assert [offence[:3] for offence in offences(f"fine\n{text}\n", depth)] == ["2: "]


@pytest.mark.parametrize(
    "text",
    [
        "docs/home/index.md",
        "https://example.org/a/b",
        "[up](../README.md)",
        "~/home/x",
        "5 dB/work",
        "and/or ...",
    ],
)
def test_what_is_no_offence_is_let_pass(text: str) -> None:
    """Relative paths, other people's addresses and links within the checkout are fine."""
    assert list(offences(text, depth=1)) == []


def test_the_readers_of_code_can_find_fault(tmp_path: Path) -> None:
    """A print, a silent test and a folder without __init__.py are each seen."""
    tree = ast.parse("def test_a():\n    pass\n\nasync def test_b():\n    '''Says.'''\n    print(1)\n")
    assert list(untold(tree)) == ["test_a"]
    assert list(printing(tree)) == [6]
    (tmp_path / "__init__.py").touch()
    for folder in ("bare", "desks", "empty"):
        (tmp_path / folder).mkdir()
    (tmp_path / "bare" / "module.py").touch()
    (tmp_path / "desks" / "data.yaml").touch()
    assert list(unpackaged(tmp_path)) == ["bare"]


def test_a_bad_pin_is_found() -> None:
    """A dependency without a pin, or with one out of its range, is named; spelling does not matter."""
    asked = ["typing_extensions>=4", "numpy>=2.0", "scipy"]
    assert list(_badly_pinned(asked, "typing-extensions==4.1\nnumpy==1.26\n")) == ["numpy>=2.0", "scipy"]


def _badly_pinned(asked: Iterable[str], constraints: str) -> Iterator[str]:
    lines = (line.split("==") for line in constraints.splitlines() if "==" in line and line[0] != "#")
    pins = {canonicalize_name(name): version for name, version in lines}
    for line in asked:
        requirement = Requirement(line)
        pin = pins.get(canonicalize_name(requirement.name))
        if pin is None or not requirement.specifier.contains(pin, prereleases=True):
            yield line


def _tracked() -> list[Path]:
    """Files that git holds, or would with `git add .`: a new file is looked at before it is committed."""
    try:
        listed = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            encoding="utf-8",
            check=True,
        ).stdout
    except (OSError, subprocess.CalledProcessError) as error:
        pytest.skip(f"git cannot list the files here: {error}")
    return sorted(path for name in set(listed.split("\0")) if name and (path := ROOT / name).is_file())


def _text(path: Path) -> str | None:
    """Return the text of a file; None for a picture, a font and their like."""
    data = path.read_bytes()
    if b"\0" in data:
        return None
    return data.decode("utf-8", errors="replace")


def _tree(path: Path) -> ast.AST:
    return ast.parse(path.read_text("utf-8"))


def _named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()
