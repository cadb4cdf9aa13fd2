"""The student's reagent table, plan, self-check and hand-in.

What a self-check shows is computed with public numbers (``exercise/public.py``), and numbers are
shown as ``grading/visibility.py`` allows. Steps are edited by ``workups/web/plan_editor.py``, for
authors too: one address for a list of steps, one set of templates (``planning/_steps.html`` and
what it includes), menu and fields from the step kinds. What differs is an ``Editor``: where the
list is kept and who may change it, what stands beside it, what becomes of two who changed one step
(a student's drafts stand side by side; an author's form comes back with what was typed).
``static/js/plan.js`` moves a step by dragging and sends what the buttons Up and Down send, with
more places at once. It puts the word to drag by on the page itself, so that nothing is offered
which a page without scripts cannot do.
"""
