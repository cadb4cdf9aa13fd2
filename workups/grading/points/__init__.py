"""Points of the checks that speak of the product: order, extraction, drying.

``ledger``     follows every mmol of a product to the place it ends in and the step that took it off
               the way to the balance
``shortfall``  holds that against what the exercise's own routes bring in the same draw, and what is
               weighed beside the product against what they leave in
``charges``    makes points of it. Nothing else decides how much is lost
``causes``     mends the breaches that the rules find one after the other, earlier stages first;
               what vanishes with a cause was its consequence. So rules *explain* a loss and share
               it out, and what none explains is charged in the ledger's own words
               (``data/ledger_words.toml``). What only a mended plan shows is never held against a
               student. A rule may ask for more than the product shows (a missed endpoint, a flask
               without a tare): the larger of the two is taken, never both
``littleweighed``  takes a part of them where the plan is right and next to nothing was weighed
"""
