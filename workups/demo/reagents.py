"""The reagent table as a student of the demo fills it in: mostly right, now and then a slip."""

from workups.grading.reagent_table import LineAnswers, ReagentLine
from workups.models import Work
from workups.selectors.reagents import lines_of
from workups.services.reagents import save_reagent_table
from workups.words.numbers import significant

SLIP_EVERY, SLIP_FACTOR = 5, 1.1


def fill_in_table(work: Work, number: int) -> None:
    """Every fifth student takes a wrong molar mass for the limiting reagent."""
    lines = lines_of(work)
    active = [line for line in lines if line.coefficient > 0 and not line.is_product]
    if not active:
        return
    limiting = min(active, key=lambda ln: ln.mmol_with(ln.molar_mass) / ln.coefficient)
    wrong = SLIP_FACTOR if number % SLIP_EVERY == SLIP_EVERY - 1 else 1.0
    answers = {line.key: _answers(line, limiting, wrong if line is limiting else 1.0)
               for line in lines}
    save_reagent_table(work=work, answers=answers)


def _answers(line: ReagentLine, limiting: ReagentLine, wrong: float) -> LineAnswers:
    asked = set(line.asks)
    molar_mass = line.molar_mass * wrong
    made = limiting.mmol_with(limiting.molar_mass) / limiting.coefficient * line.coefficient
    return LineAnswers(
        molar_mass=significant(molar_mass, 5) if "molar_mass" in asked else "",
        amount_mmol=significant(line.mmol_with(molar_mass), 3) if "amount_mmol" in asked else "",
        theoretical_g=(significant(made * line.molar_mass / 1000.0, 3)
                       if "theoretical_g" in asked else ""),
        limiting=line is limiting)
