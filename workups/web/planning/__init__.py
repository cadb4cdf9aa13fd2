"""The student's reagent table, plan builder, self-check and hand-in.

What a self-check shows is computed with public numbers (``grading/public.py``), and numbers are
shown as ``grading/visibility.py`` allows. The builder's menu and fields follow from the step kinds.
``static/js/plan.js`` moves a step by dragging and sends what the buttons Up and Down send, with
more places at once. It puts the word to drag by on the page itself, so that nothing is offered
which a page without scripts cannot do.
"""
