"""Printed sheets (PDF) and figures (SVG): plain data in, bytes or text out.

A sheet is a dataclass, a template of ``templates/sheets`` and ``render`` (``paper`` has what makes
PDF, imported at the first sheet). What is written down at
the bench, in which boxes, follows from the steps (``blanks``); every blank has its field in the
form that a sheet is typed into (``workups/web/bench/sheet_forms.py``). ``stock_for_one``
(``stock/stock.py``) carries the model plan out and counts what it takes; ``prep_lines`` scales,
adds groups up and puts it in words for page and PDF. The TA sheet holds what students may not see
before the lock: ``print-ta-sheet`` is for teaching roles only. Labels of flasks and waste
containers take their hazards from what the simulation puts in, framed in black; a student's labels
from the public run. Pictograms are drawn in ``pictograms`` after the open UN standard; which
statement has which stands in ``stock/data`` with source and grade.

``scheme`` draws a plan as a separation scheme, one structure in two forms (for a page, for a phone)
and in words; it takes any plan, carried out or not.

``funnel`` draws a shake before and after (``unshaken``, ``layers`` put the two states together from
the reports, ``funnel_drawn`` draws them).

``choice_curve`` draws what another value of one choice of a step would do (``grading/trying``).

``svg`` writes figures in ink and paper of the page, told apart by hatching, with a text in their
place; no style attribute, no script: the content security policy refuses both.

The bench sheet is set for two pages, on A4 and on Letter: plans of up to 18 steps with one product
fit in the font that ``.ci/setup`` installs (17 in a wide font); 29 steps with three products take
three pages on A4 and four on Letter.
"""
