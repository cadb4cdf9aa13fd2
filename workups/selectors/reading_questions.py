"""Questions about readings, asked as "please check this entry". They never block anything."""

from workups.selectors.bench import WeighingPair


def weighing_questions(weighings: WeighingPair) -> list[str]:
    questions = []
    difference = weighings.by_difference_g
    if difference is not None and difference < 0:
        questions.append("The gross reading is below the tare. Were the two swapped?")
    if not weighings.tares or not weighings.grosses:
        return questions
    tare, gross = weighings.tares[-1], weighings.grosses[-1]
    if tare.flask_number and gross.flask_number and tare.flask_number != gross.flask_number:
        questions.append(
            f"The tare is of flask {tare.flask_number}, the gross of flask {gross.flask_number}."
        )
    if sorted(tare.on_pan) != sorted(gross.on_pan):
        questions.append(
            "Not the same things were on the pan: "
            f"{', '.join(tare.on_pan) or 'nothing'} at the tare, "
            f"{', '.join(gross.on_pan) or 'nothing'} at the gross."
        )
    if tare.balance and gross.balance and tare.balance != gross.balance:
        questions.append("Tare and gross were read on different balances.")
    return questions
