"""Checks, findings, points and diagnosis of a plan and of what was weighed: no Django, no clock.

``assess`` ties it together for an exercise, a plan and, where there are any, readings. Equal work,
seed and number of draws give the same assessment to the last byte. Every plan with a step gets an
assessment; what cannot be carried out is a safety hold at its step.

Points
    ``ledger``     follows every mmol of a product to the place it ends in and the step that took it
                   off the way to the balance
    ``shortfall``  holds that against what the exercise's own routes bring in the same draw, and
                   what is weighed beside the product against what they leave in
    ``charges``    makes points of it for the checks that speak of the product (order, extraction,
                   drying). Nothing else decides how much is lost
    ``causes``     mends the breaches that the rules find one after the other, earlier stages first;
                   what vanishes with a cause was its consequence. So rules *explain* a loss and
                   share it out, and what none explains is charged in the ledger's own words
                   (``data/ledger_words.toml``). What only a mended plan shows is never held against
                   a student. A rule may ask for more than the product shows (a missed endpoint, a
                   flask without a tare): the larger of the two is taken, never both
    ``littleweighed``  takes a part of them where the plan is right and next to nothing was weighed
    ``benchdrying``, ``yieldcheck``, ``explained``, ``clerical``  score what was recorded: the
                   drying at the bench, the yield, a deviation that was explained there, an entry
                   that cannot be as it is written
    ``done``       makes the plan as it was carried out from the marks of the bench record
    ``diagnosis``  ranks explanations of the mass (``hypotheses``)

A finding's ``score_loss`` is the share of its check that it takes, so that costs and overruling
need no second rule. How heavy a loss weighs is judgement: ``tests/grading/stories.py`` has what a
fair marker would give for student stories, written down before any was run, ``matrix.py`` what
planted mistakes may cost at least and at most by the loss that a second simulation finds, and
``test_ledger_properties.py`` what holds of any plan (no product earns at most a quarter, a change
that only loses never raises the points, another spelling changes nothing). Who changes a weight
prints stories and matrix before and after.

What is hidden
    ``public``     the exercise as everybody may know it: a stated conversion and share of side
                   reactions in the place of the exercise's own. All that a student sees of a plan
                   before the readings are locked is computed on it. A hidden number that an
                   exercise is given gets its public one there; ``tests/grading/test_public.py``
                   asks for every field
    ``visibility`` what a student may see, and when: decided there alone. Before release it refuses
                   every assessment but one with public numbers (made by
                   ``services.assessments.assess_publicly``)
The exercise's own numbers decide whether a plan handed in is held; the student reads of that the
rule and the step.

Adding
    a rule                  see ``rules``
    an explanation          see ``hypotheses``
    a choice of instructors a line in ``settings``, read by ``exercise.choice(key)``; files with
                            another key or value are refused
    a library exercise      a file in ``workups/library``; its model plan and alternatives must lose
                            no points

Beside the marks stand here, from the same runs: what the stockroom puts out (``stock``,
``sundries``), sentences and cautions of steps (a kind without one gets it from its fields and
materials), hazards (``hazards``, and ``mixture_hazards`` for what the simulation puts into flasks
and waste containers, by simplified limits; tables in ``data`` with source and grade), doubts about
amounts that can be written and are hardly meant (``plausible``), the equations with an exercise's
own numbers (``worked``: by hand, constant K, at the pH and volumes of the simulated shake), and
the invented students of demos and calibration (``students``).
"""
