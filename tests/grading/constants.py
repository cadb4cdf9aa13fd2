"""Every number that a mark rests on, doubled and halved: which of them does a mark notice?

``python -m tests.grading.constants`` takes each number of ``test_mark_constants.py``, changes it in
memory (in its own module and in every module that took it over by name) and looks for a plan whose
mark is another then: the one that noticed it last, the rules of its module alone on their own plans
and on generated ones, whole marks of plans that come to a line where it is read. The plan stands in
``tests/data/constants_noticed.csv``; what none notices is printed, with its share. Arguments are
the beginnings of the paths to look at; the rows of others are kept. All in one process: half an
hour of processor, most of it for the numbers that nothing notices.

A mark is what is read of it: the points of each check and its note, each finding's code, strength,
step and words, and the safety holds. Of a rule alone it is what it says, and the plan it mends to.

``test_constants_noticed.py`` holds the rows.
"""

from __future__ import annotations

import ast
import csv
import importlib
import random
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from importlib.util import resolve_name
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any

from tests.mutation import ROOT, given_numbers, scope
from workups.chemistry.plan import Plan
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    TargetReadings,
    Weighing,
)
from workups.chemistry.run import run_as_far
from workups.documents import library_exercise, load_plan, load_readings
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.grading.points import shortfall
from workups.grading.rule import RULES

from .plans import edited_plan, every_exercise
from .planted import DATA, exercise
from .rules.labs import Lab
from .rules.tables import found
from .rules.test_every_rule import MODULES
from .stories import STORIES, Story

FILE = ROOT / "tests" / "data" / "constants_noticed.csv"
HEAD = ("module", "name", "number", "change", "noticed_by")
DRAWS = 8
MORE_DRAWS = 64
MOST_TRIED = 8
GENERATED = 60
CHANGES = ("doubled", "halved")
ALONE = "alone"
Make = Callable[[], object]


# --- plans ---------------------------------------------------------------------------------------


@cache
def plans() -> Mapping[str, Make]:
    """What is assessed, by name: the tables of the rules, the stories, planted plans, records."""
    made: dict[str, Make] = {}
    for module in MODULES:
        for code, table in module.TABLES.items():
            for name, lab in {**table.breaks, **table.looks_wrong, **table.keeps}.items():
                made[f"{ALONE} {code}: {name}"] = _of_rule(code, lab)
                made[f"rule {code}: {name}"] = _of_lab(lab)
    for topic in topics():
        for seed in range(GENERATED):
            made[f"{ALONE} {topic}, plan {seed}"] = _of_generated(topic, seed)
    for story in STORIES:
        made[f"story {story.key}"] = _of_story(story)
    for file in sorted((DATA / "plans").glob("*.toml")):
        made[f"planted {file.stem}"] = _of_file(file)
    for name, readings in _records().items():
        made[f"record {name}"] = _of_record(readings)
    return made


def _of_lab(lab: Callable[[], Lab]) -> Make:
    def make() -> object:
        one = lab()
        return _read(assess(one.exercise, one.plan, draws=DRAWS))
    return make


def _of_rule(code: str, lab: Callable[[], Lab]) -> Make:
    """What the rule alone says, with its costs: ten times faster than the whole mark."""
    def make() -> object:
        return [(f.breach.step, f.remark.strength, f.remark.message, f.remark.change,
                 round(f.remark.score_loss, 3)) for f in found(code, lab(), DRAWS)]
    return make


def topics() -> Mapping[str, list[str]]:
    """The rules of each module; all of them for a module that rules share and that has none."""
    own: dict[str, list[str]] = {}
    for path in scope():
        folder, _, file = path.rpartition("/")
        if folder.endswith("rules"):
            topic = file.removesuffix(".py")
            own[topic] = [code for code, rule in RULES.items()
                          if rule.find.__module__.endswith(f".{topic}")] or list(RULES)
    return own


def _of_generated(topic: str, seed: int) -> Make:
    """What the rules of a module say of a generated plan and how they mend it, without costs."""
    def make() -> object:
        start, plan = _carried_out(seed)
        case = Case(start.exercise, plan, start.run)
        return [(code, b.step, b.remark(None), b.mended)
                for code in topics()[topic] for b in RULES[code].find(case)]
    return make


@cache
def _carried_out(seed: int) -> tuple[Case, Plan]:
    every = every_exercise()
    exercise = every[seed % len(every)]
    run, _ = run_as_far(model_run(exercise, 1, DRAWS), edited_plan(exercise, seed))
    plan = Plan(tuple(o.step for o in run.outcomes))
    return Case(exercise, plan, run), plan


def _of_story(story: Story) -> Make:
    return lambda: _read(story.assessed(DRAWS))


def _of_file(file: Path) -> Make:
    """With a record and more draws than are mended with."""
    def make() -> object:
        record = load_readings((DATA / "readings" / "as-planned.toml").read_text())
        return _read(assess(exercise(), load_plan(file.read_text()), record, draws=MORE_DRAWS))
    return make


def _of_record(readings: Readings) -> Make:
    return lambda: _read(
        assess(library_exercise("plain-ether"), readings=readings, draws=DRAWS))


def _records() -> dict[str, Readings]:
    """Records of the ether's model plan: masses along the yield check's curve, slips in writing,
    what was and was not seen of the drying."""
    made = {f"{mass:g} g": _record(mass)
            for mass in (-0.2, -0.08, -0.03, 0.0, 0.03, 0.3, 0.6, 0.9, 1.5, 2.0, 2.4, 2.7, 3.0,
                         3.2, 3.4, 3.6, 3.8, 4.0, 4.4, 5.0)}
    good = _record(3.0)
    made["3 g, one reading"] = _record(3.0, readings=1)
    made["2 g, a leak written down"] = replace(good, steps=tuple(
        replace(s, remark="The funnel leaked, about a third was lost") if s.step.id == "extract"
        else s for s in _record(2.0).steps), targets=_record(2.0).targets)
    made["tare and gross in each other's place"] = _record(-3.0)
    made["in mg"] = _weighed((50000.0, "tare"), (53000.0, "gross"), (53000.0, "gross"))
    made["tare in mg"] = _weighed((50000.0, "tare"), (53.0, "gross"), (53.0, "gross"))
    made["tare ten times too small"] = _weighed((5.0, "tare"), (53.0, "gross"), (53.0, "gross"))
    made["tare ten times too large"] = _weighed((500.0, "tare"), (53.0, "gross"), (53.0, "gross"))
    made["gross ten times too large"] = _weighed((50.0, "tare"), (530.0, "gross"), (530.0, "gross"))
    for mass in (None, 0.2, 0.5, 0.8, 1.2, 2.0, 4.0):
        for looks in (("free-flowing", "clear"), ("free-flowing", "cloudy"), ("", "")):
            row = DryingRecord("dry", agent_mass_g=mass, agent_look=looks[0], liquid_look=looks[1])
            made[f"{mass} g of agent, {' and '.join(looks)}"] = replace(good, drying=(row,))
    return made


def _record(mass_g: float, readings: int = 2) -> Readings:
    return _weighed((50.0, "tare"), *(((50.0 + mass_g), "gross"),) * readings)


def _weighed(*masses: tuple[float, str]) -> Readings:
    ether = library_exercise("plain-ether")
    row = DryingRecord("dry", agent_mass_g=4.0, agent_look="free-flowing", liquid_look="clear")
    weighings = tuple(Weighing(kind, round(mass, 3)) for mass, kind in masses)
    return Readings(
        steps=tuple(DoneStep(s, "done") for s in ether.model_plan.steps), drying=(row,),
        targets={ether.setup.targets[0].substance: TargetReadings(weighings)})


def mark(name: str) -> object:
    """What is read of the mark of a plan; the exception's name where there is none."""
    for cached in _cached():
        cached.cache_clear()
    try:
        return plans()[name]()
    except Exception as error:  # whatever a changed number breaks is noticed
        return type(error).__name__


def _read(result: Assessment) -> object:
    return (
        [(c.name, c.points, c.note) for c in result.checks],
        [(f.code, f.strength, f.step, f.message, f.change) for f in result.findings],
        result.safety_holds,
    )


def _cached() -> list[Any]:
    """What the grading remembers of plans; carried-out model plans and texts rest on no number of
    a mark."""
    return [f for f in vars(shortfall).values() if hasattr(f, "cache_clear")]


# --- faults --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Fault:
    """A number of a module, doubled or halved: the ``number``-th that the name is given, and the
    line it stands in; the name of one taken of a score is its function's."""

    module: str
    name: str
    number: int
    change: str
    line: int

    @property
    def key(self) -> tuple[str, str, str, str]:
        """As it stands in the file; lines move too often to stand there."""
        return self.module, self.name, str(self.number), self.change


def faults() -> list[Fault]:
    """Every number that a mark rests on, twice."""
    made = []
    for path in scope():
        if "/grading/" not in path:
            continue
        tree = _tree(path)
        counted: dict[str, int] = {}
        for node in given_numbers(tree):
            name = _owner(tree, node.lineno)
            counted[name] = counted.get(name, 0) + 1
            made += [Fault(path, name, counted[name], change, node.lineno) for change in CHANGES]
    return made


def _tree(path: str) -> ast.Module:
    return ast.parse((ROOT / path).read_text(encoding="utf-8"))


def _statement(tree: ast.Module, line: int) -> ast.stmt:
    return next(s for s in tree.body if s.lineno <= line <= (s.end_lineno or 0))


def _owner(tree: ast.Module, line: int) -> str:
    """The names a statement gives, or the function that a number stands in."""
    statement = _statement(tree, line)
    return ", ".join(_given(statement)) or getattr(statement, "name", "")


def _given(statement: ast.stmt) -> list[str]:
    if not isinstance(statement, ast.Assign | ast.AnnAssign):
        return []
    targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
    return [n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name)]


def _changed(fault: Fault) -> ast.Module:
    tree = _tree(fault.module)
    mine = [n for n in given_numbers(tree) if _owner(tree, n.lineno) == fault.name]
    node = mine[fault.number - 1]
    assert isinstance(node.value, int | float)
    half = node.value // 2 if isinstance(node.value, int) else node.value / 2
    node.value = node.value * 2 if fault.change == "doubled" else half
    return tree


def _module(path: str) -> ModuleType:
    return importlib.import_module(path.removesuffix(".py").replace("/", "."))


@contextmanager
def put_in(fault: Fault) -> Iterator[None]:
    """The program with a number changed, for as long as this lasts."""
    tree, module = _changed(fault), _module(fault.module)
    statement = _statement(tree, fault.line)
    if names := _given(statement):
        changed = dict(vars(module))
        exec(compile(ast.Module([statement], []), fault.module, "exec"), changed)  # noqa: S102
        holders = [m for m in _loaded() if m is module or _takes(m, module) & set(names)]
        was = [(m, n, vars(m)[n]) for m in holders for n in names if n in vars(m)]
        for holder, name, _ in was:
            setattr(holder, name, changed[name])
        try:
            yield
        finally:
            for holder, name, value in was:
                setattr(holder, name, value)
        return
    function = _function(module, fault)
    was_code, code = function.__code__, compile(tree, str(module.__file__), "exec")
    function.__code__ = next(c for c in _codes(code)
                             if c.co_qualname == was_code.co_qualname)
    try:
        yield
    finally:
        function.__code__ = was_code


def _loaded() -> list[ModuleType]:
    return [m for n, m in sorted(sys.modules.items()) if n.startswith("workups.")]


def _takes(module: ModuleType, of: ModuleType) -> set[str]:
    """Names that a module takes over from another one by importing them."""
    return {name for source, name in _imports(module) if source == of.__name__}


@cache
def _imports(module: ModuleType) -> frozenset[tuple[str, str]]:
    """Module and name of everything that a module imports by name."""
    if not (module.__file__ or "").endswith(".py"):
        return frozenset()
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    return frozenset(
        (resolve_name("." * s.level + (s.module or ""), module.__package__), a.name)
        for s in ast.walk(tree) if isinstance(s, ast.ImportFrom) for a in s.names)


def _function(module: ModuleType, fault: Fault) -> FunctionType:
    """The function that a number taken of a score stands in."""
    owner = vars(module)[fault.name]
    if isinstance(owner, FunctionType):
        return owner
    methods = [f for f in vars(owner).values() if isinstance(f, FunctionType)]
    return next(f for f in methods if fault.line in {line for *_, line in f.__code__.co_lines()})


def _codes(code: CodeType) -> Iterator[CodeType]:
    for const in code.co_consts:
        if isinstance(const, CodeType):
            yield const
            yield from _codes(const)


# --- which plans come to a number ----------------------------------------------------------------


def reads(fault: Fault) -> set[tuple[str, int]]:
    """File and line of every place where a number is read."""
    names = set(_given(_statement(_tree(fault.module), fault.line)))
    if not names:
        return {(str(ROOT / fault.module), fault.line)}
    module, found = _module(fault.module), set()
    for other in _loaded():
        if other is module or _takes(other, module):
            file = str(other.__file__)
            for node in ast.walk(ast.parse(Path(file).read_text(encoding="utf-8"))):
                if getattr(node, "id", getattr(node, "attr", "")) in names:
                    found.add((file, node.lineno))  # type: ignore[attr-defined]
    return found


def mark_and_lines(name: str) -> tuple[object, set[tuple[str, int]]]:
    """The mark of a plan, and the lines of the grading that are come to for it."""
    folder, seen = str(ROOT / "workups" / "grading"), set()

    def inside(frame: FrameType, _event: str, _arg: object) -> Any:
        seen.add((frame.f_code.co_filename, frame.f_lineno))
        return inside

    def called(frame: FrameType, _event: str, _arg: object) -> Any:
        return inside if frame.f_code.co_filename.startswith(folder) else None

    sys.settrace(called)
    try:
        return mark(name), seen
    finally:
        sys.settrace(None)


# --- the run -------------------------------------------------------------------------------------


def candidates(
    fault: Fault, lines: Mapping[str, set[tuple[str, int]]], last: str
) -> Iterator[str]:
    """What may notice: the plan that did it last, the rules of the module alone, then whole marks
    that come to where the number is read, in an order that mixes kinds; of these at most
    ``MOST_TRIED``."""
    if last in plans():
        yield last
    topic = Path(fault.module).stem if "/rules/" in fault.module else ""
    own = topics().get(topic, [])
    if len(own) < len(RULES):
        yield from (n for n in plans() if n.startswith(tuple(f"{ALONE} {c}:" for c in own)))
    yield from (n for n in plans() if topic and n.startswith(f"{ALONE} {topic}, plan "))
    places = reads(fault)
    near = [name for name in lines if lines[name] & places]
    random.Random(fault.line).shuffle(near)  # noqa: S311 (no secret)
    first = tuple(f"rule {c}:" for c in own) if topic else ("story", "record")
    near.sort(key=lambda n: not n.startswith(first))
    yield from near[:MOST_TRIED]


def noticed_by(fault: Fault, tried: Iterable[str], marks: dict[str, object]) -> str:
    """The first plan whose mark is another with a fault; empty if there is none. ``marks`` are
    those without, and are added to."""
    for name in tried:
        if name not in marks:
            marks[name] = mark(name)
        with put_in(fault):
            if mark(name) != marks[name]:
                return name
    return ""


def rows() -> list[tuple[str, ...]]:
    """The rows of the file: module, name, number, change, plan."""
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(map(tuple, csv.reader(file)))[1:]


def main(begins: tuple[str, ...]) -> None:
    """Look for the plan that notices each number, and write them down."""
    known = {row[:4]: row[4] for row in rows()}
    both = {n: mark_and_lines(n) for n in plans() if not n.startswith(ALONE)}
    marks = {name: one for name, (one, _) in both.items()}
    lines = {name: seen for name, (_, seen) in both.items()}
    tried = [f for f in faults() if not begins or f.module.startswith(begins)]
    survivors = 0
    for fault in tried:
        by = noticed_by(fault, candidates(fault, lines, known.pop(fault.key, "")), marks)
        if by:
            known[fault.key] = by
            continue
        survivors += 1
        print(f"{fault.module}:{fault.line} {fault.name} ({fault.number}) "  # noqa: T201
              f"{fault.change}", flush=True)
    write({fault.key: known[fault.key] for fault in faults() if fault.key in known})
    print(f"{len(tried)} changes, {survivors} not noticed "  # noqa: T201
          f"({100 * survivors / len(tried):.0f} %)")


def write(noticed: Mapping[tuple[str, ...], str]) -> None:
    """The file anew."""
    with FILE.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(
            [HEAD, *((*key, by) for key, by in noticed.items())])


if __name__ == "__main__":
    main(tuple(sys.argv[1:]))
