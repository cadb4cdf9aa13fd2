"""Prints the schema of the three documents."""

import json
import textwrap
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand

from workups.documents.schema import DOCUMENT_KINDS, TableSchema, document_schema, json_schema

WIDTH = 96
_INTRODUCTION = {
    "exercise": "An exercise: the reaction, what is on the bench, the product, how it is judged, "
                "what students read, and the instructor's own route.",
    "plan": "A plan: the steps of a workup, in order, each acting on named flasks. The flask "
            '"reaction flask" is there from the start; "waste" is where layers are thrown away.',
    "readings": "A bench record: what was done, the weighings and what was seen. A step that was "
                "carried out has the keys of its kind of step beside mark, after and remark.",
}


class Command(BaseCommand):
    help = ("Prints the schema of the TOML documents: every key, what its value must be, its "
            "default and what it is for.")
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("document", nargs="?", choices=sorted(DOCUMENT_KINDS),
                            help="only this document (default: all three)")
        parser.add_argument("--json", action="store_true",
                            help="print JSON Schema (draft 2020-12) instead of text")

    def handle(self, *_args: Any, **options: Any) -> None:
        chosen = [options["document"]] if options["document"] else list(DOCUMENT_KINDS)
        if options["json"]:
            schemas = {document: json_schema(document) for document in chosen}
            printed = schemas[chosen[0]] if options["document"] else schemas
            self.stdout.write(json.dumps(printed, indent=2, ensure_ascii=False))
            return
        self.stdout.write("\n".join(_page(chosen)))


def _page(documents: list[str]) -> Iterator[str]:
    tables = {document: document_schema(document) for document in documents}
    for document, schema in tables.items():
        yield f"{document.upper()}"
        yield from _wrapped(_INTRODUCTION[document], "")
        yield ""
        for table in schema:
            if not _is_step(table):
                yield from _table(table)
    yield "KINDS OF STEP"
    yield ""
    for table in tables[documents[0]]:
        if _is_step(table):
            yield from _table(table)


def _is_step(table: TableSchema) -> bool:
    return table.header.startswith("step with verb")


def _table(table: TableSchema) -> Iterator[str]:
    yield f"  {table.header or 'at the top of the file'}"
    yield from _wrapped(_capital(table.about), "    ")
    for line in table.keys:
        default = {"required": ", required", "": ""}.get(line.default, f", default {line.default}")
        about = f"{line.help[:1].upper()}{line.help[1:]}. " if line.help else ""
        yield from textwrap.wrap(f"{about}{_capital(line.value)}{default}.", WIDTH,
                                 initial_indent=f"    {line.key:<24} ", subsequent_indent=" " * 29)
    yield ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)
