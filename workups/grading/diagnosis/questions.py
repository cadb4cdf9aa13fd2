"""A question to ask for each explanation: open, about the work, never an accusation."""

from __future__ import annotations

from collections.abc import Mapping

QUESTIONS: Mapping[str, str] = {
    "nothing-wrong": "How did it go, and is there anything you would do differently?",
    "single-portion": "How did you divide the solvent over the extractions?",
    "one-portion-fewer": "How many portions went into the funnel, and where is each extract now?",
    "later-extractions-skipped": "After the first extract, what did you do with the water layer?",
    "not-mixed": "How did you shake, how long, and what did the layers look like while you did?",
    "layer-partly-lost": "Where did you stop at the interface, and what was on top of the layer "
    "that you set aside?",
    "wash-took-product": "How often and with how much water did you wash, and was it warm?",
    "no-rinse": "After pouring and filtering, what did you do with the glass and the filter cake?",
    "no-agent": "How was the organic layer dried, and how could you tell that it was dry?",
    "too-little-agent": "When you swirled with the drying agent in, did some of it move freely?",
    "agent-in-flask": "What did the flask look like when you started to take off the solvent, and "
    "does the residue dissolve?",
    "fines": "Which paper did you filter through, and was the liquid behind it clear?",
    "solvent-left": "How long did the flask stay on after the solvent stopped coming, and does it "
    "smell of solvent now?",
    "product-evaporated": "How warm was the bath, how strong the vacuum, and how long was it on?",
    "spilled": "Did anything foam, splash or run over on the way, and what is in the bump bulb?",
    "aqueous-carried-over": "Was there a second layer under the organic one when the drying agent "
    "went in?",
    "incomplete-reaction": "How long and how warm did the reaction run, and what did TLC show at "
    "the end of it?",
    "acid-left": "What was the pH of the last base wash when you let it off?",
    "wrong-layer": "Which layer did you keep at each separation, how did you test it, and which "
    "flasks do you still have?",
    "tare-gross-swapped": "Can we look at the notebook together: which of the two readings is the "
    "empty flask?",
    "digits-swapped": "Could you read the numbers out to me from where you first wrote them?",
    "volume-read-early": "When did you read the volume, and of how many extracts was it?",
    "factor-1000": "Which unit did the display show?",
    "wrong-decimal": "Could you read the numbers, with the decimal point, from where you first "
    "wrote them?",
    "object-at-gross": "What was in and on the flask at the second weighing that was not there at "
    "the first?",
    "object-at-tare": "What was on the pan with the empty flask, and is it still on the flask?",
    "another-flask": "Which number is on the flask, and which number did you write at the tare?",
    "weighed-warm": "How long after the bath was the flask weighed, and what does it weigh now?",
    "not-constant": "What did you do between the last two weighings, and what does it weigh now?",
    "something-else": "Could you take me through the work from the start?",
}
