"""The simulation of a workup: standard library, numpy and numba (``compiled``) only.

Every amount is an array (C, N) in mmol: C components in a fixed order (``inventory``), N draws;
draw 0 is the nominal run. A run (``run``) carries a plan out step by step on named flasks
(``state``) and keeps every moment; a changed plan starts from the first step that differs, and
fewer draws are cut from a run with more (``cut``). After each step the sum over flasks, waste,
glass and air equals what was put in, to 1e-9 (``conservation``). Constants are drawn by name
(``draws``), so that a new one leaves the others as they were.

One home for each thing that others ask
    ``step``, ``plan``  what a kind of step takes, needs, fills, uses, prints and asks to be written
                        down: one class, read by file format, forms, sheets, stock, waste and flow
    ``flow``            where the liquid of a plan can go; nobody walks a plan for it again
    ``kinds``           what is in a bottle or flask: acid, base, carbonate, brine, oxidant, ...,
                        by its contents and never by its name
    ``compiled``        what is compiled: the equilibrium (``mixture``, ``water``, ``layers``,
                        ``gel``, ``speciation``, ``rounds``, ``equilibrium``, ``titration``), the
                        way of a stripping, the densities of weighings in the diagnosis; written
                        for one draw in plain floats and repeated over the draws; array functions
                        beside it only call it. ``machine_code`` has the compiler, read at the first
                        call of anything compiled
    ``constants``, ``limits``, ``practice``  what belongs to nature; what people call too much; what
                        glass and hands do, which an exercise may replace (grade P)
    ``ownable``         what an exercise may replace at all: names, units, ranges
Do not ask which kind a step is to find out what one of these says.

Adding
    a substance, solvent, bench solution or salt
                        a row in ``data/*.csv`` with source and grade, its citation in
                        ``sources.toml``; ``tests/chemistry/test_tables_integrity.py`` says what is
                        missing
    what people call it a row in ``also_called.csv``
    a drying agent      a row in ``drying_agents.csv`` and its steps in ``hydrate_steps.csv``
    a step kind         a dataclass in ``plan``, its action in ``steps.ACTIONS``, its sentence in
                        ``words/sentences.py`` where the one made from its fields will not do, and
                        a caution in ``words/cautions.py`` where its materials do not say enough.
                        ``tests/test_step_kinds.py`` adds one and watches it arrive everywhere
    a practice value    a line in ``practice``; exercises replace it under the same name
    a substance for one exercise
                        a ``[[substance]]`` table in its file (``own_substances`` of the setup).
                        Look substances up in ``setup.tables``, never in ``tables()``, wherever an
                        exercise is in reach
    an ion pair         a value ``log10_Kip:SUBSTANCE:ION:SOLVENT`` of the exercise (bases only)
    a part of compiled code
                        a function under ``inner`` above the ``entry`` that needs it; then
                        ``python -m workups.chemistry.compiled`` compiles (half a minute)
    an equation         its own module with symbols, units, validity and source in the docstring; a
                        case in ``reference_cases`` against something outside

What is counted and what is left out
    Water contracts around hydroxide and the anions of weak acids by one figure for all, around
    protonated bases by another (bench solutions within 0.012 g/mL of the tables, concentrated
    sulfuric acid left out). Carbon dioxide shares itself out; hydrogen and methane leave whole
    (``contact``). Liquids that come together in a flask react
    at once where a water layer meets what gives gas or is used up at once. Borohydride stays what
    it is until it meets water (``hydride``); sodium hydride and Grignard reagents give their gas at
    the first shake even if it is dry. Bringing a flask without a water layer to a pH pours what
    makes one first. A single layer goes where its like went at the shake before.
    Every step ends with solids out of the water of the flasks it changed, or back in, by solubility
    at the temperature of the flask (``solids``, ``solubility``); no organic layer crystallises by
    itself, and a shake takes solids in. Salts are solid in an organic solvent without water
    (``salts_out``). Solubility in water knows no other salt and no co-solvent in it. Where solids
    may come out they make no organic layer by themselves; with less than a few hundredths of a mL
    of solvent or oil the result may still depend on where the search began. Potassium carbonate in
    a solvent without any water is taken for dissolved carbon dioxide: gas there is overstated, and
    the rule ``carbonate-stoppered`` counts only what has a water layer. Magnesium hydroxide comes
    out by its solubility product (``gel``). Carboxylic acids pair up in hydrocarbons and
    chlorinated solvents (``data/dimerisation.csv``), mixed pairs as chance has it. Slow reactions
    are first order in the water layer, while shaken, stirred or standing (``slow``); what the
    interface adds is left out, and where an exercise states no rate one is assumed for a product
    that is an ester or an acetal and no ion (``data/class_rates.csv``).
    Heat of mixing is worked out for the rules as an adiabatic upper bound (``heat``); a flask of
    the run is as warm as what was poured into it.
    Activities are ideal: pH to about 0.3. There are no emulsions and no decomposition by heat.
    Partition coefficients that nobody measured come from Abraham's equation anchored at octanol
    (``workups.lookup.partition``, source ``abraham_platts`` in ``partition.csv``);
    ``tests/lookup/test_partition.py`` holds table and relation together. Change one with the other.
"""

ENGINE_VERSION = "22"
