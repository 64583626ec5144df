"""Imports run one way through the packages, imports inside functions included."""

import ast
from pathlib import Path

import puttvision

ROOT = Path(puttvision.__file__).parent
GROUND = {"errors", "files", "resources", "physics", "putts", "looks", "scene"}
VISION = {"putt", "ball", "green", "clip"}

MAY_IMPORT = {
    "errors": set(),
    "files": {"errors"},
    "resources": {"errors"},
    "physics": set(),
    "putts": {"errors", "files"},
    "looks": set(),
    "scene": {"errors", "files", "physics"},
    "clip": GROUND,
    "green": GROUND | {"clip"},
    "ball": GROUND | {"clip", "green"},
    "putt": GROUND | {"clip", "green", "ball"},
    "drill": GROUND,
    "card": GROUND | {"drill"},
    "printing": GROUND | {"green", "drill"},
    "journal": GROUND | VISION | {"drill"},
    "coaching": GROUND | {"drill", "journal"},
    "review": GROUND | VISION | {"drill", "card", "journal", "coaching"},
}
"""What each package or module may import of the others; cli may import anything."""


def imports_of(tree):
    """Dotted names a module imports, wherever the import stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide where they lead"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def wrong_imports(sources):
    """(file, imported part) of every import against the table; ``sources``: relative path -> text."""
    wrong = []
    for path, text in sources.items():
        own = Path(path).parts[0].removesuffix(".py")
        if own in ("cli", "__init__", "__main__"):
            continue
        for name in imports_of(ast.parse(text)):
            parts = name.split(".")
            other = parts[1] if parts[0] == "puttvision" and len(parts) > 1 else own
            if other not in (own, "__version__") and other not in MAY_IMPORT.get(own, set()):
                wrong.append((path, other))
    return wrong


def test_imports_run_one_way():
    sources = {
        str(path.relative_to(ROOT)): path.read_text(encoding="utf-8")
        for path in ROOT.rglob("*.py")
        if "_shipped" not in path.parts
    }
    assert len(sources) > 20
    assert wrong_imports(sources) == []


def test_every_package_stands_in_the_table():
    found = {path.name for path in ROOT.iterdir() if path.is_dir() and list(path.glob("*.py"))}
    assert found - {"cli"} <= set(MAY_IMPORT)


def test_the_check_sees_imports_inside_functions():
    broken = "def late():\n    from puttvision.ball.follow import follow\n    return follow\n"
    assert wrong_imports({"drill/engine.py": broken}) == [("drill/engine.py", "ball")]
    assert wrong_imports({"clip/source.py": "import puttvision.cli.app"}) == [("clip/source.py", "cli")]
