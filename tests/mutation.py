"""Small faults put into the program, one at a time, and how many of them its tests do not notice.

``python -m tests.mutation --sample 40`` puts in faults drawn with a seed: a number changed, a
comparison, a sign, an "and", a condition. ``python -m tests.mutation --constants`` doubles and
halves each number that a mark depends on instead. Both run the fitting test files on a copy of the
tree, and print each survivor and their share. What survives is judged by hand: many such changes
are equal in effect.

The faults are made by cosmic-ray (``tests/mutation_requirements.txt``), a command that knows where
in a file which change can be made; only those kinds are drawn that a slip of the pen makes (a float
made a bit mask fails at once and would only make the share look better). Doubling is not among
them, so it is done here.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
COPIED = ("labcourse", "workups", "tests", "templates", "static")
COPIED_FILES = ("manage.py", ".pytest.ini", "DEVELOPERS.md")
MOST_S = 900.0
_WITHOUT_FILES = os.environ | {"PYTHONDONTWRITEBYTECODE": "1"}
SLIPS = (
    "core/NumberReplacer", "core/AddNot", "core/ReplaceComparisonOperator*",
    "core/ReplaceAndWithOr", "core/ReplaceOrWithAnd", "core/ReplaceTrueWithFalse",
    "core/ReplaceFalseWithTrue", "core/ReplaceBinaryOperator_Add_Sub",
    "core/ReplaceBinaryOperator_Sub_Add", "core/ReplaceBinaryOperator_Mul_Div",
    "core/ReplaceBinaryOperator_Div_Mul", "core/ReplaceUnaryOperator_USub_UAdd",
    "core/ReplaceUnaryOperator_Delete_Not", "core/ReplaceContinueWithBreak",
)

CHARGED = ("tests/grading/points/test_charges.py", "tests/grading/test_stories.py")
WEIGHED = ("tests/grading/recorded/test_yieldcheck.py", "tests/grading/recorded/test_record.py")
BENCH = ("tests/services/test_bench.py", "tests/services/test_entries.py")
# Test files by module where its own name does not say them.
FITTING: Mapping[str, tuple[str, ...]] = {
    "grading/assess": ("tests/grading/recorded/test_yieldcheck.py", *CHARGED),
    "grading/points/causes": ("tests/grading/points/test_causes.py", *CHARGED),
    "grading/points/charges": CHARGED,
    "grading/recorded/clerical": WEIGHED,
    "grading/recorded/explained": WEIGHED,
    "grading/rules/parted": ("tests/grading/rules/test_layers.py",),
    "grading/rules/extraction": ("tests/grading/rules/test_layers.py", *CHARGED),
    "grading/points/ledger": ("tests/grading/points/test_ledger.py", *CHARGED),
    "grading/points/littleweighed": CHARGED,
    "grading/rule": ("tests/grading/rules", *CHARGED),
    "grading/scoring": CHARGED,
    "exercise/settings": ("tests/grading/rules/test_choices.py", "tests/words/test_numbers.py"),
    "grading/points/shortfall": CHARGED,
    "grading/rules/choices_bench": ("tests/grading/rules/test_choices.py",),
    "grading/rules/contents": ("tests/grading/rules/test_sequence.py",
                               "tests/grading/rules/test_drying.py",
                               "tests/grading/rules/test_washing.py"),
    "services/accounts": ("tests/web/accounts", "tests/services/roster"),
    "services/assessments": ("tests/services/test_assessments.py",
                             "tests/web/reports/test_compare_plans.py",
                             "tests/web/planning/test_try_step.py"),
    "services/bench": (*BENCH, "tests/web/bench/test_join_bench.py",
                       "tests/web/bench/test_leave_bench.py"),
    "services/computing": ("tests/services/test_hand_ins.py", "tests/web/test_hand_in_states.py"),
    "services/door": ("tests/web/review/test_door.py", "tests/web/review/test_queue.py"),
    "services/drafts": ("tests/web/authoring/test_drafts.py",
                        "tests/services/test_publishing.py"),
    "services/courses": ("tests/services/test_courses.py", "tests/services/roster",
                         "tests/web/test_access.py", "tests/services/test_new_term.py"),
    "services/exercises": ("tests/services/test_publishing.py", "tests/services/test_variants.py",
                           "tests/services/test_courses.py", "tests/services/test_works.py",
                           "tests/services/test_reports.py"),
    "services/gradebook": ("tests/web/review/test_class_and_gradebook.py",),
    "services/holding": ("tests/services/test_two_at_once.py",),
    "services/refusals": ("tests/services/test_two_at_once.py",),
    "services/entries": (*BENCH, "tests/web/bench/test_supply_readings.py",
                         "tests/web/bench/test_type_sheet.py"),
    "services/publishing": ("tests/services/test_publishing.py",
                            "tests/web/authoring/test_drafts.py"),
    "services/reagents": ("tests/services/test_works.py", "tests/grading/test_reagent_table.py",
                          "tests/web/planning/test_fill_reagents.py"),
    "services/results": ("tests/services/test_reports.py", "tests/web/review/test_release.py"),
    "services/review": ("tests/services/test_review.py", "tests/web/review/test_report.py",
                        "tests/web/review/test_shared_results.py",
                        "tests/web/review/test_release.py"),
    "services/second_step": ("tests/web/accounts",),
    "services/standards": ("tests/web/review/test_standards.py",),
    "services/try_outs": ("tests/web/authoring",),
    "web/access": ("tests/web/test_access.py", "tests/web/test_access_table.py"),
}
MARKS = ("exercise/settings", "grading/assess", "grading/done", "grading/rule", "grading/scoring")


def scope() -> list[str]:
    """The modules that faults are put into: what marks depend on, the writes, who may see what."""
    marks = [f"workups/{name}.py" for name in MARKS]
    folders = ("workups/grading/points", "workups/grading/recorded", "workups/grading/rules",
               "workups/services", "workups/services/roster")
    inside = (p.relative_to(ROOT).as_posix() for folder in folders
              for p in (ROOT / folder).glob("*.py") if p.name != "__init__.py")
    return sorted((*marks, *inside, "workups/web/access.py"))


def fitting(path: str) -> tuple[str, ...]:
    """The test files and folders that a fault in a module is tried on."""
    name = path.removeprefix("workups/").removesuffix(".py")
    if name in FITTING:
        return FITTING[name]
    if name.startswith("services/roster/"):
        return ("tests/services/roster",)
    folder, _, last = name.rpartition("/")
    heavy = ("tests/grading/rules/test_strengths.py",) if folder.endswith("rules") else ()
    return (f"tests/{folder}/test_{last}.py", *heavy)


@dataclass(frozen=True)
class Fault:
    """A module with one thing changed: ``text`` is the whole file as it is then."""

    path: str
    line: int
    what: str
    text: str

    def __str__(self) -> str:
        before = (ROOT / self.path).read_text(encoding="utf-8").splitlines()
        after = self.text.splitlines()
        return (f"{self.path}:{self.line} {self.what}\n    - {before[self.line - 1].strip()}\n"
                f"    + {after[self.line - 1].strip()}")


# --- constants -----------------------------------------------------------------------------------


def constants(path: str) -> Iterator[Fault]:
    """Every number but 0 that a module gives a name at its top, or that a rule takes of a score,
    doubled and halved."""
    text = (ROOT / path).read_text(encoding="utf-8")
    lines = text.splitlines(keepends=True)
    for node in given_numbers(ast.parse(text)):
        for name, value in (("doubled", node.value * 2), ("halved", node.value / 2)):
            assert node.end_col_offset is not None
            at = node.lineno - 1
            line = lines[at].encode()
            changed = (line[:node.col_offset] + repr(value).encode()
                       + line[node.end_col_offset:]).decode()
            yield Fault(path, node.lineno, name, "".join((*lines[:at], changed, *lines[at + 1:])))


def given_numbers(tree: ast.Module) -> Iterator[ast.Constant]:
    """The numbers but 0 that a module names at its top, or that a call takes of a score."""
    given: list[ast.expr] = [s.value for s in tree.body
                             if isinstance(s, ast.Assign | ast.AnnAssign) and s.value]
    given += [k.value for k in ast.walk(tree)
              if isinstance(k, ast.keyword) and k.arg == "score_loss"]
    for value in given:
        for node in ast.walk(value):
            if isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.value:
                yield node


# --- faults of cosmic-ray ------------------------------------------------------------------------


def drawn(paths: list[str], count: int, dice: random.Random, tree: Path) -> Iterator[Fault]:
    """Faults at random places: a module by its number of lines, a place in it, a fault there."""
    weights = [len((ROOT / p).read_text(encoding="utf-8").splitlines()) for p in paths]
    wanted = Counter(dice.choices(paths, weights, k=count))
    for path, number in sorted(wanted.items()):
        places = _places(path, tree)
        for place in dice.sample(sorted(places), min(number, len(places))):
            operator, occurrence = dice.choice(sorted(places[place]))
            original = (tree / path).read_text(encoding="utf-8")
            _cosmic_ray(tree, "apply", path, operator, str(occurrence))
            changed = (tree / path).read_text(encoding="utf-8")
            (tree / path).write_text(original, encoding="utf-8")
            yield Fault(path, place[0], operator.removeprefix("core/"), changed)


def _places(path: str, tree: Path) -> dict[tuple[int, int], list[tuple[str, int]]]:
    """Operators with their occurrence by line and column of a module."""
    config, session = tree / "mutation.toml", tree / "mutation.sqlite"
    config.write_text(f'[cosmic-ray]\nmodule-path = "{path}"\ntimeout = 60.0\n'
                      'excluded-modules = []\ntest-command = "true"\n'
                      '[cosmic-ray.distributor]\nname = "local"\n', encoding="utf-8")
    _cosmic_ray(tree, "init", "--force", config.name, session.name)
    with sqlite3.connect(session) as database:
        rows = database.execute("select start_pos_row, start_pos_col, operator_name, occurrence "
                                "from mutation_specs").fetchall()
    found: dict[tuple[int, int], list[tuple[str, int]]] = {}
    lines = (tree / path).read_text(encoding="utf-8").splitlines()
    for line, column, operator, occurrence in rows:
        if lines[line - 1].startswith("@dataclass"):
            continue  # frozen or not: nothing changes one
        if any(fnmatch(operator, kind) for kind in SLIPS):
            found.setdefault((line, column), []).append((operator, occurrence))
    return found


def _cosmic_ray(tree: Path, *words: str) -> None:
    command = shutil.which("cosmic-ray") or str(Path(sys.executable).with_name("cosmic-ray"))
    subprocess.run([command, *words], cwd=tree, check=True, capture_output=True)


# --- running -------------------------------------------------------------------------------------


def is_noticed(fault: Fault, tree: Path) -> bool:
    """Whether the fitting tests fail, or hang, with a fault."""
    file = tree / fault.path
    original = file.read_text(encoding="utf-8")
    file.write_text(fault.text, encoding="utf-8")
    try:
        return not _pass(tree, fitting(fault.path), fault.path)
    finally:
        file.write_text(original, encoding="utf-8")


@cache
def _passes_unchanged(tree: Path, files: tuple[str, ...]) -> bool:
    return _pass(tree, files)


def _pass(tree: Path, files: tuple[str, ...], changed: str = "") -> bool:
    """In a process forked from one that has the rest loaded, where the change is not in that."""
    forked = _Forked.of(tree)
    if changed.removesuffix(".py").replace("/", ".") not in forked.loaded:
        return forked.pass_all(files)
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *files]
    try:
        done = subprocess.run(
            command, cwd=tree, capture_output=True, timeout=MOST_S, check=False, env=_WITHOUT_FILES)
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


class _Forked:
    """`tests.forked_runs` on a tree, and the modules that it has loaded."""

    def __init__(self, tree: Path) -> None:
        runs = subprocess.Popen(
            [sys.executable, "-m", "tests.forked_runs"], cwd=tree, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=_WITHOUT_FILES)
        assert runs.stdin is not None
        assert runs.stdout is not None
        self._asked, self._answers = runs.stdin, runs.stdout
        self.loaded = frozenset(json.loads(self._answers.readline()))

    @classmethod
    @cache
    def of(cls, tree: Path) -> _Forked:
        return cls(tree)

    def pass_all(self, files: tuple[str, ...]) -> bool:
        print(json.dumps(files), file=self._asked, flush=True)
        return self._answers.readline() == "0\n"


def copied(into: Path) -> Path:
    """A copy of what tests need."""
    for name in COPIED:
        shutil.copytree(ROOT / name, into / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in COPIED_FILES:
        shutil.copy(ROOT / name, into / name)
    return into


def main() -> None:
    """Print the survivors and their share."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("only", nargs="*", help="only modules whose path begins so")
    parser.add_argument("--sample", type=int, default=0, help="so many faults (constants: all)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--constants", action="store_true", help="double and halve constants")
    given = parser.parse_args()
    paths = [p for p in scope() if not given.only or p.startswith(tuple(given.only))]
    dice = random.Random(given.seed)  # noqa: S311 (no secret)
    with tempfile.TemporaryDirectory() as folder:
        tree = copied(Path(folder))
        if given.constants:
            every = [f for p in paths if "/grading/" in p for f in constants(p)]
            tried = iter(dice.sample(every, given.sample) if given.sample else every)
        else:
            tried = drawn(paths, given.sample or 40, dice, tree)
        _report(tried, tree)


def _report(tried: Iterator[Fault], tree: Path) -> None:
    tally: Counter[str] = Counter()
    for fault in tried:
        if is_noticed(fault, tree):
            tally["noticed"] += 1
        elif not _passes_unchanged(tree, fitting(fault.path)):
            print(f"tests fail unchanged: {fitting(fault.path)}", flush=True)  # noqa: T201
        else:
            tally["survived"] += 1
            print(fault, flush=True)  # noqa: T201
        print(f"  noticed {tally['noticed']}, survived {tally['survived']}", end="\r",  # noqa: T201
              flush=True)
    total = tally.total()
    share = 100 * tally["survived"] / total if total else 0.0
    print(f"\n{total} faults, {tally['survived']} survived ({share:.0f} %)")  # noqa: T201


if __name__ == "__main__":
    main()
