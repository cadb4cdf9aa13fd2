"""Checks, findings, points and diagnosis of a plan and of what was weighed: no Django, no clock.

``assess`` ties it together for an exercise, a plan and, where there are any, readings. Equal work,
seed and number of draws give the same assessment to the last byte. Every plan with a step gets an
assessment; what cannot be carried out is a safety hold at its step.

Who judges what
    ``rules``      what a plan breaks, what is said of it, and the plan with just that mended
    ``points``     the ledger of the product and what it costs
    ``recorded``   what was recorded: the drying at the bench, the yield, a deviation that was
                   explained, an entry that cannot be as it is written
    ``diagnosis``  ranks explanations of the mass; ``slips`` lists them with their priors
    ``done``       makes the plan as it was carried out from the marks of the bench record
    ``looking``    what the steps do, unjudged, for pictures of a plan; ``trying`` what another
                   value of one choice would do
    ``reagent_table``  the table that a student fills in beforehand

A finding's ``score_loss`` is the share of its check that it takes, so that costs and overruling
need no second rule. How heavy a loss weighs is judgement: ``tests/grading/stories.py`` has what a
fair marker would give for student stories, written down before any was run, ``matrix.py`` what
planted mistakes may cost at least and at most by the loss that a second simulation finds, and
``test_ledger_properties.py`` what holds of any plan (no product earns at most a quarter, a change
that only loses never raises the points, another spelling changes nothing). Who changes a weight
prints stories and matrix before and after.

What is hidden
    Before the readings are locked everything is computed on the exercise as everybody may know it
    (``exercise/public.py``). ``visibility`` alone decides what a student may see, and when; before
    release it refuses every assessment but one with public numbers, made by
    ``assess_publicly`` and ``look_publicly`` of ``services.assessments``; ``trying`` takes the
    public exercise itself. The exercise's own numbers decide whether a plan
    handed in is held; the student reads of that the rule and the step.

Adding
    a rule                  see ``rules``
    an explanation          see ``diagnosis``
    a choice of instructors a line in ``exercise/settings.py``
    a library exercise      a file in ``workups/library``; its model plan and alternatives must lose
                            no points
"""
