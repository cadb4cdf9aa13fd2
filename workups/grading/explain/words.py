"""The question to ask about each slip: open, about what was done, never an accusation."""

from __future__ import annotations

from collections.abc import Mapping

QUESTIONS: Mapping[str, str] = {
    "nothing-wrong": "Is there anything you would do differently next time?",
    "something-else": "Please go through the afternoon step by step: what was unlike the plan?",
    "single-portion": "How was the solvent for the extraction divided?",
    "one-portion-fewer": "How many extracts did you combine?",
    "later-extractions-skipped": "How many times did you extract, and where are the extracts now?",
    "not-mixed": "How long and how firmly did you shake, and did the layers turn cloudy?",
    "layer-partly-lost": "Where did you stop draining, and what became of the interface?",
    "wash-took-product": "How much water was used for the washes altogether?",
    "no-rinse": "What did you rinse after pouring, and with how much?",
    "no-agent": "What did the layer look like before you stripped it?",
    "too-little-agent": "Did the last portion of drying agent stay loose when you swirled?",
    "agent-in-flask": "What was in the flask besides the liquid when you put it on the evaporator?",
    "fines": "Was the filtered solution clear, and what was in the filter?",
    "solvent-left": "Does the product smell of solvent, and does its mass still fall?",
    "not-constant": "How did the last two weighings compare, and how long apart were they?",
    "product-evaporated": "How warm was the bath, how low the pressure, and for how long?",
    "spilled": "Was anything spilled, or did the flask bump?",
    "aqueous-carried-over": "Was there a line or drops under the organic layer before drying?",
    "incomplete-reaction": "How long was the reaction heated, and what does TLC show?",
    "acid-left": "Was the last hydrogencarbonate wash still basic when you tested it?",
    "wrong-layer": "Which beaker held which layer, and how did you find out?",
    "weighed-warm": "Had the flask come to room temperature when you weighed it?",
    "tare-gross-swapped": "Which of the two readings was taken first?",
    "digits-swapped": "Please compare each reading with your notebook, digit by digit.",
    "factor-1000": "Which unit did the balance show?",
    "wrong-decimal": "Where does the decimal point stand in your notebook?",
    "object-at-gross": "What was on the pan at the gross weighing: a stopper, a stir bar, a ring?",
    "object-at-tare": "What was on the pan at the tare and not at the gross weighing?",
    "another-flask": "Which number is on the flask, and which was on the one you tared?",
}


def question_for(slip: str) -> str:
    """The question for a slip; for one without its own, the open one."""
    return QUESTIONS.get(slip, QUESTIONS["something-else"])
