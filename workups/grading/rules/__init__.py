"""All rules of grading, one topic a file. Importing this package registers them.

A rule is a function under ``@rule(code, check, stage)``. What students read of it (title, source,
help page, what is said of a breach) is an entry of ``TOPIC.toml`` in ``texts``, its docstring is
for whoever changes it; topics that have no such file yet have title and source in the decorator and
the page in the docstring. A rule yields breaches: the step, what is said, and the plan with just
that one thing mended. Rules compare a plan with nothing; they look at what the simulated plan does.
They explain a loss and share it out; how much is lost in all, and what no rule explains, says the
ledger (``workups.grading``). Mends that several rules need are in ``rewriting``; what liquids come
together in one vessel, whatever is poured into what, is asked of ``meeting``; what stands in a
flask, and which bottle would serve, of ``contents``. A rule about a kind of step goes through
``case.of`` that kind, and asks a step what it does before it asks what it is. ``choices`` and
``choices_bench`` hold rules that say nothing unless an exercise asks for them (``settings``).

A new rule is a function in the file of its topic and an entry in its words, with plans that break
it, keep it, and look wrong but are fine in ``tests/grading/rules``, and its place in the lists
below, which ``tests/test_guide.py`` compares with the rules there are.

Mends and costs. Every rule mends at least one of its plans, and a mended finding carries the
simulated difference, but for two: layers-may-invert (what helps is a look, not another plan; it
shows the difference of the densities) and poured-away-early (keeping the layer changes nothing that
is computed; it shows how much product was in it). Some plans of a rule have no mend, and its
finding then shows its own numbers: a flask tared after use (the number is the same), layers where
the model is unsure that there are two, impurities, pH values and separations for which the bench
has no bottle that would serve, an overfull funnel where smaller portions of the same volume do not
make room, chloroform shaken with concentrated base. Bookkeeping, labels, venting and waste are
mended too, but cost nothing that is weighed. Rules of information only are mended last, and what
could not be mended is never the consequence of a rule of a later stage.

What must come before what, and the rule that says so
    P1   cool, before the funnel: warm-into-funnel, solvent-into-hot-flask; slowly, in ice, acid
         into water: boils-as-poured, water-into-acid
    P2   quench, before the first shake: not-quenched, quench-closed, poured-in-too-fast,
         magnesium-hydroxide; quench-otherwise if asked for
    P3   destroy the oxidant, before acid and evaporation: oxidant-meets-acid, oxidant-evaporated,
         oxidant-extracted, oxidant-not-tested
    P4   solvent that mixes with water off or diluted, before the partition: cosolvent-in-partition
         (a mark only for a large and sure loss), cosolvent-left-in-product; cosolvent-otherwise if
         asked for
    P5   water, before carbonate: carbonate-before-water, above ``co2_limit_mL`` or where the
         carbonate is used up
    P6   swirl open, before the stopper: carbonate-stoppered, not-vented
    P7   combine, before the wash: either way; extract-left-behind, combined-late if asked for
    P8   hydrogencarbonate, before hydroxide: targets-not-separated
    P9, P10  acid or base first: free; last-wash if asked for
    P11  water, between acid and carbonate: acid-on-carbonate where gas comes off;
         water-between-acid-and-carbonate if asked for
    P12, P13  other washes, brine, before the drying agent: brine-not-last, no-brine (information),
         brine-required if asked for
    P14  the last water, also that of a wet flask, before the drying agent: wet-again-after-drying,
         not-dried unless the exercise lets drying free, wet-receiver
    P15  visible water off, before the drying agent: visible-water, wrong-layer-dried
    P16, P17  filter, before evaporating: agent-not-filtered, powder-decanted; decanted if asked for
    P18  tare, before filling: flask-not-tared; tared-afterwards if asked for
    P19  rinse the cake, before evaporating: cake-not-rinsed, not-rinsed-over
    P20  evaporate, before weighing: weighed-before-stripping, never-stripped, never-weighed,
         solvent-left
    P21  cool, before weighing: part of weighing; not-cooled-before-weighing if asked for
    P22  weigh, and weigh again: one-reading if asked for; record
    P23  change the pH, before isolating: not-set-free, ph-not-reached
    P24  wash the acid layer, before basifying: neutrals-carried-along; impurity-left where the salt
         was left out altogether
    P25  extract washings again, before discarding: product-washed-out, above
         ``wash_loss_limit_percent``
    P26  weigh, before discarding: poured-away-early (information), product-layer-put-aside

Beside the order, if asked for: extraction-not-checked, drying-amount, overnight-over-agent,
dichloromethane-used. For information: wash-without-effect. Ways to take dimethylformamide out need
no setting: what counts is what is left. The number of portions is ``fixed_portions`` of the
exercise, points for yield its rubric.

The 78 student errors of the trade's catalogue, and what sees them
    Names are rules. "Diagnosis" names an explanation of ``slips``, "record" a question of
    ``record``, "yield" one of the yield check. Whatever takes product off the way to the balance,
    or puts something beside it on the balance, costs points by the ledger, named here or not.
    1, 2    product layer discarded, wrong layer taken for organic: product-layer-put-aside;
            diagnosis wrong-layer
    3       inverted layers: layers-may-invert
    4       second extraction of the wrong phase: one-layer-only, product-layer-put-aside
    5, 6    one portion, portions skipped: recovery-below-goal; diagnosis single-portion,
            one-portion-fewer, later-extractions-skipped
    7       not mixed: diagnosis not-mixed only, where a product had to change layers; a plan says
            "shake" either way
    8       no rinse: cake-not-rinsed, not-rinsed-over; diagnosis no-rinse
    9       extract left on the bench: extract-left-behind
    10, 11  interface cut badly: diagnosis aqueous-carried-over, layer-partly-lost; visible-water if
            it is in the plan
    12      stopper on while draining: not seen; harmless, and nothing records it
    13      tap open: diagnosis spilled
    14-17   venting, gas, warm, overfilled: not-vented, carbonate-stoppered, warm-into-funnel,
            solvent-into-hot-flask, boils-as-poured, funnel-too-full
    18      flasks swapped: not-labelled; not-set-free and targets-not-separated if it is in the
            steps
    19, 20  emulsion, rag layer: not seen; the simulation has no emulsions. Time and brine against
            one are never held against a plan
    21-23   quench left out, too fast, plain water: not-quenched, poured-in-too-fast, quench-closed,
            magnesium-hydroxide
    24      acid on a sensitive product: acid-on-sensitive-product, shaken, stirred or standing,
            where the exercise states a rate
    25, 26  base on an acid, acid on an amine: product-washed-out
    27      hydroxide on an ester: strong-base-on-ester
    28-31   wrong base first, base or acid too weak or too little: targets-not-separated,
            impurity-left
    32      pH not far enough: not-set-free, ph-not-reached
    33      acid poured in fast: poured-in-too-fast
    34      no base wash: acid-left-in-product; diagnosis acid-left
    35, 36  carbonate before water, acid on carbonate: carbonate-before-water,
            acid-on-carbonate
    37, 38  product leaches into washes: product-washed-out; diagnosis wash-took-product
    39, 40  no brine, brine early: no-brine, brine-not-last
    41, 42  co-solvent, dimethylformamide left: cosolvent-in-partition, cosolvent-left-in-product
    43      oxidant not destroyed: oxidant-meets-acid, oxidant-evaporated, oxidant-extracted.
            Hypochlorite only; peroxides have no numbers
    44      incompatible mixing: waste-never-together, waste-makes-gas, wrong-waste-stream. Nitric
            acid with organics is not seen, no exercise has it
    45-48   agent none, little, short, much: not-dried, too-little-agent, too-short-drying,
            too-much-agent; bench drying; diagnosis no-agent, too-little-agent
    49      cake not rinsed: cake-not-rinsed
    50, 51  puddle, water layer dried: visible-water, wrong-layer-dried
    52      wrong agent: agent-incompatible
    53-55   not filtered, fines, washed after drying: agent-not-filtered, powder-decanted,
            wet-again-after-drying; diagnosis agent-in-flask, fines
    56      no tare: flask-not-tared; record tare-missing
    57      bumping: diagnosis spilled; nobody plans it
    58      product evaporated: product-boiled-off; diagnosis product-evaporated
    59, 60  solvent left: solvent-left, never-stripped, cosolvent-left-in-product; diagnosis
            solvent-left, not-constant
    61      overheated: not seen; no decomposition in the simulation. The purity witness may show it
    62      ether to dryness: caution beside the step, not a rule, since stock and tests are not in
            a plan
    63, 64  object on the pan, another flask: record another-load, another-flask, another-balance;
            diagnosis object-at-gross, object-at-tare, another-flask
    65      weighed warm: diagnosis weighed-warm; not-cooled-before-weighing if asked for
    66      wet outside: not told from water inside, both are mass that falls; record not-constant
            asks for a second reading
    67      balance too coarse: widens the tolerance, costs nothing
    68      drift, draught: not seen; below what two readings tell
    69-71   digits swapped, tare and gross swapped, factor 1000: diagnosis digits-swapped,
            tare-gross-swapped, factor-1000, wrong-decimal; record gross-below-tare,
            more-than-charged, digits-crossed, asked at the bench too; yield entry-to-check
            (``clerical``)
    72      decimals: record too-many-decimals
    73      theoretical yield: reagent table, error carried forward
    74      recovery called yield: separate fields
    75      above 100 % unexplained: yield above-theoretical
    76      written later: times of the entries, for the instructor; no score effect
    77      pooled sample entered twice: one shared record for partners
    78      invented data: not judged by the program

``tests/grading/catalogue.py`` plants 46 changes for 37 of these in the library exercises they
apply to, in a few of them by default and in all nine with ``bash .ci/long``: at least 95 % of those
that matter must be named by the right rule, and random harmless variations must lose no mark of
order and meet no heavy word. ``tests/grading/matrix.py`` holds what each costs against a simulation
that shares no code with the program.
"""

from . import (
    bookkeeping,
    brine,
    choices,
    choices_bench,
    cosolvent,
    drying,
    drying_agent,
    filtering,
    gas,
    heat,
    layers,
    parting_ways,
    purity,
    quench,
    sequence,
    setting_free,
    washing,
    waste,
)

__all__ = [
    "bookkeeping",
    "brine",
    "choices",
    "choices_bench",
    "cosolvent",
    "drying",
    "drying_agent",
    "filtering",
    "gas",
    "heat",
    "layers",
    "parting_ways",
    "purity",
    "quench",
    "sequence",
    "setting_free",
    "washing",
    "waste",
]
