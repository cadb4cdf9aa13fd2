"""The student's reagent table, plan, self-check and hand-in.

What a self-check shows is computed with public numbers (``exercise/public.py``), and numbers are
shown as ``grading/visibility.py`` allows. Steps are edited by ``workups/web/plan_editor.py``, for
authors too: one address for a list of steps, one set of templates (``planning/_steps.html`` and
what it includes), menu and fields from the step kinds. What differs is an ``Editor``: where the
list is kept and who may change it, what stands beside it, what becomes of two who changed one step
(a student's drafts stand side by side; an author's form comes back with what was typed).
A step just added has what most likely stands in it (``web/step_forms.py``), and is
filled in where that says everything. What is typed into a step without a network is kept in the
bench's store on the device and sent later as the form would be (``static/js/plan_drafts.js``).
``static/js/plan.js`` moves a step by dragging and sends what the buttons Up and Down send, with
more places at once. It puts the word to drag by on the page itself, so that nothing is offered
which a page without scripts cannot do.
"""
