"""What the stockroom puts out and takes back, and how dangerous it is, from the model plan's run.

``stock`` counts what a plan takes, ``sundries`` the small things beside it, ``waste`` what goes
into which container, ``sums`` puts groups together. ``hazards`` has the statements and pictograms
of materials, ``mixture_hazards`` those of what the simulation puts into flasks and waste
containers, by simplified limits; tables in ``data`` with source and grade.
"""
