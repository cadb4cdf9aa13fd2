"""What was recorded at the bench, scored: readings, drying, yield.

``record`` asks about readings and accuses nobody, ``clerical`` finds entries that cannot be as they
are written, ``benchdrying`` scores the drying at the bench, ``yieldcheck`` the mass found against
the band for what was done, ``explained`` a deviation that the student explained there and then.
"""
