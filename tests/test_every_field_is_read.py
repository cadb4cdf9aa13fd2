"""A field of a dataclass that nothing of the program reads is work for nothing: it goes."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
# Read outside: by programs that take an assessment's JSON, and by the measuring of the diagnosis.
READ_OUTSIDE = {
    ("GasReport", "dry_mmol"), ("GasReport", "stoppered_kPa"), ("Slip", "mass_group"),
    ("Weighing", "minute"),  # in a record's file, for whoever reads it
}


def _modules() -> Iterator[ast.Module]:
    for path in sorted((ROOT / "workups").rglob("*.py")):
        if "migrations" not in path.parts:
            yield ast.parse(path.read_text(encoding="utf-8"))


def _is_dataclass(node: ast.ClassDef) -> bool:
    return any("dataclass" in ast.unparse(d) for d in node.decorator_list)


def test_every_field_of_a_dataclass_is_read() -> None:
    """By attribute in a module, or by name in a template. Fields of an exercise, a plan and a
    record are read by their declarations too; ``tests/documents`` holds those to more."""
    fields: set[tuple[str, str]] = set()
    read = set(re.findall(r"\w+", "\n".join(
        p.read_text(encoding="utf-8") for p in (ROOT / "templates").rglob("*.html"))))
    for module in _modules():
        for node in ast.walk(module):
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
                read.add(node.attr)
            elif isinstance(node, ast.ClassDef) and _is_dataclass(node):
                fields |= {(node.name, line.target.id) for line in node.body
                           if isinstance(line, ast.AnnAssign) and isinstance(line.target, ast.Name)
                           and "ClassVar" not in ast.unparse(line.annotation)}
    assert len(fields) > 500
    assert {field for field in fields if field[1] not in read} <= READ_OUTSIDE
