"""Writes: keyword-only, atomic; ``full_clean``, then save, then ``record_audit``, all in one
transaction.

Exceptions are named for the broken rule; the view turns them into a form error or a status. They
are ``Refused``: where no view expected one, ``web/errors.py`` answers 409 with the first sentence
of its docstring.

Assessing takes seconds, so nothing is computed inside a transaction. What is stored is assessed
afterwards; where each work stands between the two is ``Work.hand_in``, and states, events and what
each allows stand in ``hand_ins``. Whatever changes what an assessment rests on calls
``new_to_assess`` in its transaction and ``settle`` after it. Where the program stops in between,
``works_to_assess`` finds it, and ``lock_overdue`` or the button on the queue assesses it;
``start_bench`` and ``admit_work`` assess first, so that no hold is missed. An accepted report waits
again when more of it comes in (``open_review``).

``computing`` is the one place that catches what the core raises: the reader gets a sentence, the
log an entry with a token; ``lock_overdue --again`` assesses what failed once its cause is mended. A
test in which the core is meant to fail asks for ``expected_failures``; any other fails where
``computing`` logs something. ``assessments`` is the one way to an assessment, with the exercise's
own numbers or, for all that students see before release, with public ones (``assess_publicly``).

Locks. Whoever compares what it then writes holds the row first (``holding``, which says in which
order); ``hold`` reads its columns anew. What a double click would make twice is looked for under
such a lock. On PostgreSQL every test fails that takes rows out of their order; ``tests/races`` does
each two things at once that can be done to the same work.

Publishing. A draft (``ExerciseDraft``) may be wrong; publishing freezes its text as an
``ExerciseRevision`` and closes the draft, which a colleague who has it open may save again. The
guard is in ``publish_draft``, not in the page. What a model plan does is computed once for a text,
seed, number of draws and engine and kept as a ``ModelRun``, which can be thrown away at any time. A
new revision given to a section that has an older one takes over the students who have saved nothing
yet (``move_unstarted``); ``moving`` takes the others, and keeps in a ``RevisionMove`` all it takes
to go back. ``new_term`` copies every field of a course that is not listed as its own. "Try as a
student" needs no second kind of student: the instructor is the only student of a small course of
their own (``try_outs``).

Results. Whatever opens one person's readings again (a returned report, an extension, later dates,
one who joins late or comes back) first calls ``keep_results_out``: results that students have seen
stay visible. A record whose owner has the result is not opened again for a partner, and no result
goes out while a partner corrects the readings it rests on. Points given by hand are a
``PointAdjustment``, the difference to what was computed; they carry what the page showed, and the
service compares under its lock.

A bench record may have several owners. A partner's code stands on labels that anybody reads, so it
only asks: an owner lets the other in from the bench page (``bench``). An owner leaves the record
(``leave_bench``), or the TA takes out who was absent; the record stays with the others.
"""
