"""Reads with logic in them: plain values for pages and sheets, in few queries. Nothing is written.

Which sections a role sees says ``courses.sections_seen_by``. Lists of many reports are made of the
``verdicts`` of their assessments, without what each step did; the page of one report decodes its
assessment in full. Why a report needs eyes is a
``Reason`` with its rank. What a finding cost is its share of what the check lost
(``staff_report.costs_of``), so that the costs of a check sum to its loss; what overruling it gives
back is ``points_without``, or what it cost where a rule of its own gives the score (the yield's
band, drying at the bench). Names are hidden while marking by ``anonymity``.

``method`` shows the docstrings of the computing modules as a page, and ``rules`` those of the
rules: their words are for readers.
"""
