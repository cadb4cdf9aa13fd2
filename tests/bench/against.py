"""Beside an older engine: ``python -m tests.bench.against WORKTREE``.

``git worktree add --detach WORKTREE 0ca317b`` makes one of engine 11; any other state will do. Each
tree works in a process of its own, by turns with the other, and says how much processor time a
piece of work took it; the figure is the older one's shortest time over the newer one's. Plans are
the model plan of each library exercise, each planning mistake and several mistakes at once; records
are those of invented students. Every constant of this class of work is drawn with the 500 draws of
a self-check, the exercise's own model run known but where a line says otherwise.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

from workups.documents.library import library_names

from .timing import Figure, printed

HERE = Path(__file__).parents[2]
WORKER = Path(__file__).parent / "worker.py"
REPEATS, CLASS, STUDENTS, MOST_PLANS = 2, 24, 2, 13
MANY_CHECKS, MOST_MB, LAST_CHECKS_MB = 500, 300.0, 5.0


@dataclass
class Tree:
    """The program of one working tree, at work in a process of its own."""

    process: subprocess.Popen[str]

    def ask(self, *words: str) -> str:
        """What the worker answers to a line of words."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(" ".join(words) + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        if not answer:
            raise RuntimeError(f"the worker stopped at {words}")
        return answer.strip()

    def seconds(self, *words: str) -> float:
        """Processor time that a piece of work took."""
        return float(self.ask(*words))


def at_work(root: Path) -> Tree:
    """Start the worker on a tree."""
    # The worker is ours; nothing else goes into the command.
    return Tree(subprocess.Popen(
        [sys.executable, str(WORKER)], cwd=root, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        text=True))


def ratio(trees: Sequence[Tree], *words: str, repeats: int = REPEATS) -> float:
    """The shortest time of the first tree over that of the second, by turns."""
    times = [min(column) for column in zip(
        *([tree.seconds(*words) for tree in trees] for _ in range(repeats)), strict=True)]
    return times[0] / times[1]


def checks(trees: Sequence[Tree], exercises: Sequence[str], most: int) -> Iterator[Figure]:
    """Plan checks: one with a mistake of each exercise, and the worst of all its plans."""
    one, worst = {}, {}
    for name in exercises:
        plans = [t.ask("plans", name).split() for t in trees]
        both = [p for p in plans[0] if p in plans[1]]
        both = [*both[:most - 1], both[-1]]
        found = {plan: ratio(trees, "check", name, plan) for plan in both}
        mistaken = next(p for p in both if p != "model")
        one[name], least = found[mistaken], min(found, key=lambda p: found[p])
        worst[name] = found[least]
        print(f"    {name}: {mistaken} {one[name]:.1f}, median of {len(found)} plans "  # noqa: T201
              f"{statistics.median(found.values()):.1f}, least {least} {worst[name]:.1f}",
              flush=True)
    yield Figure(f"plan check, one mistake, median of {len(one)} exercises",
                 statistics.median(one.values()), 10.0, at_least=True)
    yield Figure("plan check, the least of all plans", min(worst.values()), 6.0, at_least=True)


def records(trees: Sequence[Tree], exercises: Sequence[str]) -> Iterator[Figure]:
    """Full assessments."""
    found = [ratio(trees, "full", name, str(number)) for name in exercises
             for number in range(STUDENTS)]
    yield Figure("full assessment with readings and diagnosis, median",
                 statistics.median(found), 8.0, at_least=True, details=f"least {min(found):.1f}")


def classes(trees: Sequence[Tree], exercises: Sequence[str]) -> Iterator[Figure]:
    """What moving a class to a revision that nobody knows yet computes, without the pages."""
    found = {name: ratio(trees, "class", name, str(CLASS), repeats=1) for name in exercises}
    yield Figure(f"assessing {CLASS} records anew, model run unknown, median",
                 statistics.median(found.values()), 8.0, at_least=True,
                 details=", ".join(f"{n} {r:.1f}" for n, r in found.items()))


def memory(many: int) -> Iterator[Figure]:
    """Memory of a worker that checks one plan after another, each for the first time."""
    tree = at_work(HERE)
    half, whole = (float(tree.ask("memory", str(n))) for n in (many // 2, many))
    yield Figure(f"memory after {many} different checks, MB", whole, MOST_MB)
    yield Figure(f"more of it than after {many // 2}, MB", whole - half, LAST_CHECKS_MB)


def main() -> None:
    """Print every figure beside what is asked; the exit status says whether all hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.against")
    parser.add_argument("worktree", type=Path, help="a working tree of the older program")
    parser.add_argument("--checks", type=int, default=MANY_CHECKS, help="for the memory")
    parser.add_argument("--plans", type=int, default=MOST_PLANS, help="of each exercise at most")
    parser.add_argument("--classes", type=int, default=3, help="so many exercises with a class")
    parser.add_argument("exercises", nargs="*", help="of the library; none: all of them")
    asked = parser.parse_args()
    exercises = asked.exercises or library_names()
    trees = [at_work(asked.worktree.resolve()), at_work(HERE)]
    sys.exit(printed(chain(
        checks(trees, exercises, asked.plans), records(trees, exercises), memory(asked.checks),
        classes(trees, exercises[:asked.classes]))))


if __name__ == "__main__":
    main()
