"""Student stories with the total that a fair marker would give, written down before any was run.

Each story is a plan made from a library exercise's model plan (and, where the student reached the
bench, a record), a range of totals and the reason. Totals are out of 90 in every exercise, so that
rubrics of other sums can be compared. The ranges are one marker's judgement by these rules, with
the sizes of loss from the tables' constants by hand and from the catalogue of student errors:

* nothing of the product in the weighed flask: what safety and bookkeeping are worth, about 15;
* part of the product lost: the total falls about in step with it (30 % lost costs about 24);
* product there but mixed with what the workup is for taking out: by how bad the mixture is;
* a slip that is put right at the bench by a word (no tare, too short a drying): 5 to 15;
* a different way to the same end: nothing.

Eight ranges were corrected after a first run because the hand chemistry was wrong (what the drying
agent binds, which base takes the acid first, how far salt raises K), none because the mark was
another; each correction stands in its reason.

``python -m tests.grading.stories [key ...]`` prints the totals given beside these; with keys, also
what was charged.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace

from workups.chemistry.plan import (
    START_FLASK,
    Add,
    Combine,
    Discard,
    Dry,
    Extract,
    Label,
    Parting,
    Plan,
    Separate,
    Step,
    Strip,
    Tare,
    Transfer,
    Wash,
    Weigh,
)
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment

OUT_OF = 90.0
DRAWS = 24
CLOSE = 5.0
RBF = "round-bottom flask"

Edit = Callable[[Plan], Plan]
Record = Callable[[Plan], Readings]


@dataclass(frozen=True)
class Story:
    """What a student does in an exercise and the total (``low`` to ``high`` of 90) it is worth."""

    key: str
    exercise: str
    edit: Edit
    low: float
    high: float
    reason: str
    record: Record | None = None

    @property
    def plan(self) -> Plan:
        """The student's plan."""
        return self.edit(library_exercise(self.exercise).model_plan)

    def assessed(self, draws: int = DRAWS) -> Assessment:
        """What the program says of it."""
        plan = self.plan
        readings = self.record(plan) if self.record else None
        return assess(library_exercise(self.exercise), plan, readings, draws=draws)


def total(assessment: Assessment) -> float:
    """Points of the computed checks, out of 90."""
    return OUT_OF * assessment.points / assessment.out_of


def beside(story: Story, given: float) -> float:
    """How far a total lies outside a story's range; 0 inside, negative below."""
    return min(given - story.low, 0.0) + max(given - story.high, 0.0)


# --- how a plan is edited ----------------------------------------------------------------------


def _as_it_is(plan: Plan) -> Plan:
    return plan


def _then(*edits: Edit) -> Edit:
    def edit(plan: Plan) -> Plan:
        for one in edits:
            plan = one(plan)
        return plan
    return edit


def _step(plan: Plan, key: str) -> Step:
    return plan.steps[plan.index(key)]


def _without(*keys: str) -> Edit:
    def edit(plan: Plan) -> Plan:
        for key in keys:
            plan.index(key)
        return plan.without(*keys)
    return edit


def _with(key: str, **changes: object) -> Edit:
    return lambda plan: plan.replacing(replace(_step(plan, key), **changes))


def _instead(key: str, *steps: Step) -> Edit:
    def edit(plan: Plan) -> Plan:
        at = plan.index(key)
        return plan.without(key).inserting(at, *steps)
    return edit


def _after(key: str, *steps: Step) -> Edit:
    return lambda plan: plan.inserting(plan.index(key) + 1, *steps)


def _before(key: str, *steps: Step) -> Edit:
    return lambda plan: plan.inserting(plan.index(key), *steps)


def _only(*keys: str) -> Edit:
    return lambda plan: Plan(tuple(_step(plan, k) for k in keys))


def _new(*steps: Step) -> Edit:
    return lambda _plan: Plan(steps)


def _no_discards(plan: Plan) -> Plan:
    return plan.without(*(s.id for s in plan.steps if isinstance(s, Discard)))


_FLASK_FIELDS = ("flask", "keep_in", "other_in", "into", "filtrate_in")


def _called(names: dict[str, str]) -> Edit:
    def edit(plan: Plan) -> Plan:
        steps = []
        for step in plan.steps:
            own = {f.name: names.get(getattr(step, f.name), getattr(step, f.name))
                   for f in fields(step) if f.name in _FLASK_FIELDS}
            if isinstance(step, Combine):
                own["flasks"] = tuple(names.get(f, f) for f in step.flasks)
            steps.append(replace(step, **own))
        return Plan(tuple(steps))
    return edit


def _each_kept_in_a_new_flask(plan: Plan) -> Plan:
    """The layer with the product goes to a fresh beaker at every shake."""
    steps: list[Step] = []
    now: dict[str, str] = {}
    for step in plan.steps:
        name = getattr(step, "flask", "")
        moved = replace(step, flask=now[name]) if name in now else step
        if isinstance(moved, Parting):
            beaker = f"beaker {len(now) + len(steps)}"
            now[moved.keep_in] = beaker
            moved = replace(moved, keep_in=beaker)
        steps.append(moved)
    return Plan(tuple(steps))


def _singly(key: str, first: str = "extract") -> Edit:
    """An extraction of n portions as n extractions of one, combined afterwards."""
    def edit(plan: Plan) -> Plan:
        many = _step(plan, key)
        assert isinstance(many, Extract)
        flasks = tuple(f"{first} {n + 1}" for n in range(many.portions))
        ones = [
            replace(many, id=f"{key}-{n}", portions=1, keep_in=name,
                    flask=many.flask if n == 0 else many.other_in)
            for n, name in enumerate(flasks)
        ]
        return _instead(key, *ones, Combine(id=f"{key}-all", flasks=flasks, into=many.keep_in))(
            plan)
    return edit


def _as_extraction(key: str) -> Edit:
    """A wash written as an extraction of the layer with the wash; the other layer goes on."""
    def edit(plan: Plan) -> Plan:
        wash = _step(plan, key)
        assert isinstance(wash, Wash)
        other = "lower" if wash.keep == "upper" else "upper"
        ones = [
            Extract(id=f"{key}-{n}", flask=wash.flask if n == 0 else wash.keep_in,
                    material=wash.material, volume_mL=wash.volume_mL, portions=1, keep=other,
                    keep_in=f"washing {key} {n + 1}", other_in=wash.keep_in,
                    swirl_open=wash.swirl_open, settle_min=wash.settle_min)
            for n in range(wash.portions)
        ]
        tipped = [Discard(id=f"{key}-tip-{n}", flask=f"washing {key} {n + 1}")
                  for n in range(wash.portions)]
        return _instead(key, *(s for pair in zip(ones, tipped, strict=True) for s in pair))(plan)
    return edit


# --- what was written down ---------------------------------------------------------------------


def _recorded(
    target: str,
    *grams: float,
    tare: float = 62.48,
    agent: tuple[str, float, int, float] | None = None,
    looks: tuple[str, str] = ("free-flowing", "clear"),
    witnesses: tuple[Witness, ...] = (),
    explanation: str = "",
    changed: Edit = _as_it_is,
    remarks: dict[str, str] | None = None,
) -> Record:
    """Everything done as planned, but for ``changed``; gross readings for the masses in g."""
    said = remarks or {}

    def record(plan: Plan) -> Readings:
        real = changed(plan)
        steps = tuple(
            DoneStep(real.steps[real.index(s.id)],
                     "changed" if real.steps[real.index(s.id)] != s or s.id in said else "done",
                     remark=said.get(s.id, ""))
            for s in plan.steps)
        weighings = (Weighing("tare", tare), *(
            Weighing("gross", round(tare + g, 2)) for g in grams))
        dried = () if agent is None else (DryingRecord(
            agent[0], agent[1], agent[2], looks[0], looks[1], agent[3]),)
        return Readings(
            steps=steps, drying=dried,
            targets={target: TargetReadings(weighings, witnesses, explanation)})
    return record


def _weighed(target: str, tare: float, *gross: float, agent: tuple[str, float, int, float],
             explanation: str = "") -> Record:
    """As planned, with these readings as they were typed."""
    def record(plan: Plan) -> Readings:
        steps = tuple(DoneStep(s, "done") for s in plan.steps)
        weighings = (Weighing("tare", tare), *(Weighing("gross", g) for g in gross))
        dried = (DryingRecord(agent[0], agent[1], agent[2], "free-flowing", "clear", agent[3]),)
        return Readings(steps=steps, drying=dried,
                        targets={target: TargetReadings(weighings, (), explanation)})
    return record


ETHER = "1_butoxy_4_methylbenzene"
ESTER = "hexyl_acetate"
CHLORIDE_2G = ("dry", 2.0, 4, 20.0)
MAGNESIUM_3G = ("dry", 2.5, 5, 10.0)
SMELLS = Witness("odour", "smells of solvent", agrees=False)

_VIAL = _new(Tare(id="tare", flask="vial"), Weigh(id="weigh", flask="vial"))

# The water goes to the flask that is called the ether layer, the ether to the other, both times.
_ETHER_WRONG = _with("extract", keep="lower")

_NO_FUNNEL = _new(
    Add(id="water", flask=START_FLASK, material="water", volume_mL=40),
    Add(id="ether", flask=START_FLASK, material="diethyl_ether", volume_mL=40),
    Tare(id="tare", flask=RBF),
    Transfer(id="pour", flask=START_FLASK, into=RBF, rinse_with="diethyl_ether", rinse_mL=4,
             rinses=1),
    Strip(id="strip", flask=RBF, bath_C=60, pressure_mbar=20, hold_min=30),
    Weigh(id="weigh", flask=RBF),
)


def _acid_on_the_amine(volume_mL: float) -> Edit:
    return _before("wash-brine", Wash(
        id="acid-wash", flask="amine layer", material="hcl_1m", volume_mL=volume_mL, keep="upper",
        keep_in="amine layer", other_in="acid washings"))


# Magnesium sulfate: calcium chloride would bind the cresol.
_ACIDIFIED = _then(_with("quench", material="hcl_1m"), _with("dry", agent="magnesium_sulfate"),
                   _with("filter", method="gravity"))

_KEPT_THE_WATER_LAYER = _then(
    _with("extract", portions=1, volume_mL=40, keep="lower", keep_in="aqueous layer",
          other_in="ether layer"))

STORIES: tuple[Story, ...] = (
    # --- no product in the weighed flask ---
    Story("vial-only", "plain-ether", _VIAL, 3, 13,
          "A vial is tared and weighed; the reaction flask is never touched."),
    Story("vial-only-heavy-layer", "bottom-layer", _VIAL, 3, 13,
          "The same where layers and safety are worth more: nothing was done, nothing is shown."),
    Story("cool-only", "plain-ether", _only("cool"), 0, 10,
          "One right step of eleven; nothing is separated, dried or weighed."),
    Story("filter-forgotten", "plain-ether", _without("filter"), 12, 22,
          "The dried ether stays on the calcium chloride; an empty flask is stripped and weighed."),
    Story("wrong-layer-two-portions", "plain-ether", _ETHER_WRONG, 10, 20,
          "Both ether layers go to the flask called aqueous and to the waste; water is worked up."),
    Story("wrong-layer-not-discarded", "plain-ether", _then(_ETHER_WRONG, _no_discards), 10, 20,
          "The same with all flasks left standing: the plan never goes back for the ether."),
    Story("wrong-layer-heavy-solvent", "bottom-layer", _with("extract", keep="upper"), 10, 20,
          "Organic taken to be on top with dichloromethane: the drink is dried and weighed."),
    Story("wrong-layer-heavy-standing", "bottom-layer",
          _then(_with("extract", keep="upper"), _no_discards), 10, 20,
          "The same with nothing thrown away: not one step of the plan uses the lower layer."),
    Story("product-layer-thrown-out", "too-much-vinegar",
          _then(_with("wash-bicarbonate", keep="lower", other_in="waste"),
                _without("test-washings", "discard-bicarbonate")), 10, 20,
          "The ester goes to the waste at the bicarbonate wash, the bicarbonate is dried."),
    Story("acid-layer-lost", "there-and-back", _with("wash-acid-layer", keep="upper"), 10, 20,
          "The MTBE is kept and made basic; the amine is in the acid that is called washings."),
    Story("not-basified", "there-and-back", _without("basify", "test-base"), 12, 22,
          "The amine is its salt, K about 0 to MTBE: three extractions of nothing."),
    Story("acid-washed-amine", "there-and-back",
          _then(_acid_on_the_amine(20), lambda p: p.inserting(
              len(p.steps), Discard(id="tip", flask="acid washings", stream="acid"))), 12, 22,
          "20 mmol of acid take all of the 17 mmol of amine; the washings are discarded."),
    Story("acid-washed-amine-labelled", "there-and-back",
          _then(_acid_on_the_amine(20), _after(
              "wash-brine", Label(id="note", flask="acid washings", text="acid"))), 12, 22,
          "The same with the washings labelled and left: the amine is not in the weighed flask."),
    Story("acid-washed-amine-standing", "there-and-back", _acid_on_the_amine(20), 12, 22,
          "The same with the washings never spoken of again."),
    Story("boiled-off", "catch-it",
          _with("strip", bath_C=60, pressure_mbar=10, hold_min=60), 13, 23,
          "Cyclohexanone has about 37 mbar at 60 °C: at 10 mbar it follows the ether out."),
    Story("ester-boiled-off", "too-much-vinegar",
          _with("strip", bath_C=60, pressure_mbar=2, hold_min=120), 13, 23,
          "The ester has about 12 mbar at 60 °C: two hours at 2 mbar leave an empty flask."),
    # --- part of the product lost ---
    Story("half-the-acid", "there-and-back", _acid_on_the_amine(10), 58, 68,
          "10 mmol of acid take 3.5 of isopropylamine first, then 6.5 of 17 of the amine: 38 %."),
    Story("first-extract-only", "catch-it", _then(
        _with("extract", portions=1),
        _after("extract", Extract(
            id="rest", flask="aqueous layer", material="diethyl_ether", volume_mL=25, portions=3,
            keep="upper", keep_in="second extracts", other_in="aqueous layer"))), 57, 67,
          "Three of four extracts stand unused: with K 8 (1.8 M of salts), 105 mL: 34 % there."),
    Story("one-portion-of-four", "catch-it", _with("extract", portions=1), 57, 67,
          "q = 105/(105 + 8 x 25) = 0.34 stays in the water, K 3.6 without the salts."),
    Story("all-ether-at-once", "catch-it", _with("extract", portions=1, volume_mL=100), 77, 87,
          "q = 105/(105 + 8 x 100) = 0.12 where four portions leave 0.01."),
    Story("washed-with-much-water", "catch-it", _before("wash-brine", Wash(
        id="water", flask="ether layer", material="water", volume_mL=60, portions=2,
        keep="upper", keep_in="ether layer", other_in="water washings")), 62, 72,
          "K 3.6: (363/423)^2 = 0.74 is kept, 26 % of the ketone goes with the washings."),
    Story("one-portion-of-three", "bottom-layer", _with("extract", portions=1), 61, 71,
          "K 9.5: q = 60/(60 + 9.5 x 15) = 0.30 of the caffeine stays in the drink."),
    Story("one-large-portion", "bottom-layer", _with("extract", portions=1, volume_mL=45), 75, 85,
          "q = 60/(60 + 9.5 x 45) = 0.12 is left where three portions leave 0.03."),
    Story("one-portion-harmless", "plain-ether", _with("extract", portions=1), 84, 90,
          "K above 10^4: one portion takes over 99 %; the task's second one is a habit."),
    Story("no-second-extraction", "handle-gently", _without("extract"), 82, 90,
          "K 27: 35/(35 + 27 x 38) = 0.03 stays in the ammonium chloride."),
    Story("acid-not-set-free", "three-in-one-bottle", _without("acidify"), 62, 72,
          "Cinnamate stays in solution: one of three products is lost, two are right."),
    Story("base-at-pH-8", "three-in-one-bottle", _with("basify", until_pH=8.0), 86, 89,
          "A tenth of one of three products stays in the water as its salt."),
    Story("three-dishes-untared", "three-in-one-bottle",
          lambda p: p.without(*(s.id for s in p.steps if isinstance(s, Tare))), 74, 84,
          "One slip made three times: as much as no tare where there is one product."),
    Story("not-acid-enough", "three-in-one-bottle", _with("acidify", until_pH=7.0), 62, 72,
          "pKa 4.4: at pH 7 over 99 % is still the salt; one of three lost."),
    Story("bicarbonate-poured-away", "three-in-one-bottle", _then(
        _without("acidify", "test-a", "tare-a", "collect-a", "weigh-a", "discard-acid"),
        _after("label-a", Discard(id="tip", flask="flask A", stream="base"))), 60, 70,
          "The flask with the cinnamate goes to the waste: one of three is lost for good."),
    Story("flasks-swapped", "three-in-one-bottle",
          _then(_with("acidify", flask="flask B"), _with("basify", flask="flask A"),
                _with("collect-a", flask="flask A"), _with("extract-base", flask="flask B")),
          38, 48,
          "Acid into the acid flask, base into the basic one: two of three products stay salts."),
    # --- product there, but not alone ---
    Story("agent-not-filtered", "too-much-vinegar", _instead(
        "filter", Transfer(id="filter", flask="organic layer", into=RBF)), 52, 62,
          "The ester is all there under the magnesium sulfate; the mass means nothing."),
    Story("never-stripped", "plain-ether", _without("strip"), 42, 52,
          "3 g of product are weighed in 35 g of ether: all there, nothing isolated."),
    Story("toluene-stays", "slow-to-leave",
          _with("strip", bath_C=40, pressure_mbar=200, hold_min=2), 42, 52,
          "Toluene has 79 mbar at 40 °C: nothing boils at 200 mbar, 40 mL are weighed."),
    Story("gentle-strip", "plain-ether", _with("strip", pressure_mbar=250, hold_min=0), 74, 84,
          "250 of ether's 1230 mbar at 40 °C: about a tenth of ether left by mass."),
    Story("no-funnel", "plain-ether", _NO_FUNNEL, 15, 25,
          "Stripped without parting: salts and phenoxide weigh nearly as much as the product."),
    Story("water-layer-into-product", "too-much-vinegar", _after("filter", Transfer(
        id="mix", flask="acid washings", into=RBF)), 25, 35,
          "Sulfuric and acetic acid go back to a clean product: what the washes did is undone."),
    Story("acidified-first", "plain-ether", _ACIDIFIED, 68, 78,
          "3.4 mmol of cresol are set free and weighed: 0.37 g in 3.4 g, 12 %."),
    Story("no-carbonate-in-drink", "bottom-layer", _without("make-basic", "test-basic"), 64, 74,
          "Citric acid frees the benzoic acid: 0.69 mmol, 85 mg beside 290 mg of caffeine."),
    Story("no-bicarbonate", "too-much-vinegar", _without(
        "wash-bicarbonate", "test-washings", "discard-bicarbonate"), 73, 83,
          "K 0.35: 13 mmol of acetic acid after the water, about half of it after the brine."),
    Story("no-water-before-bicarbonate", "too-much-vinegar", _without("wash-water"), 84, 90,
          "37 mmol of acid: 0.36 L of gas, then 0.2 L, each under the half litre set; acid gone."),
    Story("sulfoxide-not-washed", "clinging-solvent", _without(
        "wash-water", "discard-washings"), 79, 88,
          "K 0.012: about 0.1 g of sulfoxide in 1.9 g, less after the brine."),
    Story("sulfoxide-no-wash-at-all", "clinging-solvent", _without(
        "wash-water", "discard-washings", "wash-brine", "discard-brine"), 79, 87,
          "4 % of sulfoxide is weighed with it: it boils at 189 °C and never comes off."),
    # --- chemistry on the product ---
    Story("strong-acid-quench", "handle-gently", _with("quench", material="hcl_3m"), 48, 58,
          "k 0.05 x 2.3 M x 1 to 3 % in the water: 15 to 40 % becomes alkene, weighed with it."),
    Story("alcohol-on-calcium-chloride", "handle-gently", _with(
        "dry", agent="calcium_chloride"), 55, 65,
          "Calcium chloride binds alcohols: tens of per cent stay on the cake."),
    Story("hydroxide-on-the-ester", "too-much-vinegar", _with(
        "wash-bicarbonate", material="naoh_1m"), 78, 88,
          "2 x 10^-4 of the ester is in the water: about one per cent reacts; a wrong choice."),
    # --- drying and the receiving flask ---
    Story("no-drying-agent", "plain-ether", _without("dry"), 71, 81,
          "Wet ether with droplets is stripped: drying planned not at all, water in the oil."),
    Story("dried-before-the-brine", "too-much-vinegar", lambda p: p.moving(
        "dry", p.index("wash-brine")), 71, 81,
          "Wet again after drying: the agent has done nothing and its salt goes into the brine."),
    Story("too-short-over-agent", "plain-ether", _with("dry", minutes=1), 79, 88,
          "Calcium chloride needs its quarter of an hour; part of the water stays."),
    Story("cake-not-rinsed", "plain-ether", _with("filter", rinses=0), 81, 89,
          "One to two millilitres of fifty stay on the agent: 2 to 5 %."),
    Story("no-tare", "plain-ether", _without("tare"), 74, 84,
          "No mass by difference; the flask can still be weighed empty afterwards."),
    Story("no-brine", "too-much-vinegar", _without("wash-brine", "discard-brine"), 83, 90,
          "The agent takes the water all the same; brine is expected here, not needed."),
    # --- safety and bookkeeping ---
    Story("warm-into-the-funnel", "plain-ether", _without("cool"), 74, 84,
          "Ether onto a flask of 75 °C: a hold, and points for safety."),
    Story("stoppered-bicarbonate", "too-much-vinegar", _with(
        "wash-bicarbonate", swirl_open=False, vent=False), 73, 83,
          "0.3 L of gas in a closed funnel: a hold, most of the safety points."),
    Story("bleach-not-destroyed", "catch-it", _without("destroy-bleach"), 74, 84,
          "Oxidant goes into the funnel and the ether: a hold; the ketone itself survives."),
    # --- right, written differently ---
    Story("odd-flask-names", "plain-ether", _called({
        "ether layer": "?? my jar", "aqueous layer": "ether", "spent brine": "7",
        RBF: "the good one"}), 87, 90,
          "Names are the student's own, even the name of something else."),
    Story("other-layer-called-kept", "plain-ether", _KEPT_THE_WATER_LAYER, 85, 90,
          "Keeps the water by name and goes on with the ether: the same liquids in hand."),
    Story("new-beaker-each-time", "plain-ether", _each_kept_in_a_new_flask, 85, 90,
          "The ether moves to a new beaker at each shake: a trace of film, no loss."),
    Story("one-by-one", "bottom-layer", _singly("extract"), 87, 90,
          "Three extracts in three flasks, combined: the same three portions."),
    Story("wash-as-extraction", "plain-ether", _as_extraction("wash-water"), 85, 90,
          "The wash written as taking the water layer off and tipping it away."),
    Story("dried-twice", "plain-ether", _then(
        _with("dry", minutes=10), _after("dry", Dry(
            id="dry-again", flask="ether layer", agent="calcium_chloride", mass_g=0.5,
            minutes=15))), 86, 90,
          "The same agent in two goes."),
    Story("nothing-discarded", "catch-it", _no_discards, 84, 90,
          "All layers kept to the end and not spoken of: tidy or not, the product is right."),
    Story("five-small-portions", "bottom-layer", _with("extract", portions=5, volume_mL=10),
          87, 90, "More, smaller portions: as good or better."),
    Story("weighed-in-a-vial", "plain-ether", _then(
        _without("tare", "weigh"), _after(
            "strip", Tare(id="tare", flask="vial"),
            Transfer(id="over", flask=RBF, into="vial", rinse_with="diethyl_ether", rinse_mL=2,
                     rinses=2),
            Strip(id="strip-2", flask="vial", bath_C=40, pressure_mbar=20, hold_min=10),
            Weigh(id="weigh", flask="vial"))), 86, 90,
          "Stripped in any flask, weighed in a tared vial."),
    Story("stored-after-weighing", "plain-ether", _after("weigh", Transfer(
        id="store", flask=RBF, into="sample vial", rinse_with="diethyl_ether", rinse_mL=2,
        rinses=1)), 86, 90,
          "Weighed, then rinsed over into a vial to be kept: what comes after weighing is free."),
    Story("flask-cleaned-after-weighing", "plain-ether", _after("weigh", Discard(
        id="clean", flask=RBF, stream="non_halogenated")), 84, 90,
          "Weighed and then cleared away, as a section does that does not keep its products."),
    Story("separate-then-extract", "plain-ether", _instead(
        "extract",
        Add(id="ether-in", flask=START_FLASK, material="diethyl_ether", volume_mL=20),
        Separate(id="part", flask=START_FLASK, keep="upper", keep_in="ether layer",
                 other_in="aqueous layer"),
        Extract(id="again", flask="aqueous layer", material="diethyl_ether", volume_mL=20,
                keep="upper", keep_in="ether layer", other_in="aqueous layer")), 87, 90,
          "Ether poured in and parted, then a second portion: an extraction of two."),
    # --- with a bench record ---
    Story("honest-good-work", "plain-ether", _as_it_is, 86, 90,
          "2.93 g of 3.28 g, dry, constant: nothing to take off.",
          _recorded(ETHER, 2.94, 2.93, agent=CHLORIDE_2G)),
    Story("honest-crude-ester", "too-much-vinegar", _as_it_is, 86, 90,
          "6.75 g: the ester with the hexanol that no wash takes out, as it should weigh.",
          _recorded(ESTER, 6.76, 6.75, agent=MAGNESIUM_3G)),
    Story("ordinary-sixty-per-cent", "plain-ether", _as_it_is, 81, 88,
          "1.97 g, 60 %: below what the plan leads to, as many a first time; not nothing.",
          _recorded(ETHER, 1.97, 1.97, agent=CHLORIDE_2G)),
    Story("leak-written-down", "plain-ether", _as_it_is, 82, 89,
          "1.97 g with the leak at the water wash recorded when it happened and estimated.",
          _recorded(ETHER, 1.97, 1.97, agent=CHLORIDE_2G,
                    explanation="About a third ran out of the stopcock at the water wash.",
                    remarks={"wash-water": "Stopcock leaked, about a third on the bench."})),
    Story("smells-of-solvent", "plain-ether", _as_it_is, 79, 87,
          "3.69 g, 112 %, and the smell of it said: ether not taken off, all else right.",
          _recorded(ETHER, 3.70, 3.69, agent=CHLORIDE_2G, witnesses=(SMELLS,))),
    Story("four-times-theory", "plain-ether", _as_it_is, 72, 80,
          "14.58 g where 3.28 g can be, left without a word.",
          _recorded(ETHER, 14.58, 14.58, agent=CHLORIDE_2G)),
    Story("tare-and-gross-swapped", "plain-ether", _as_it_is, 80, 89,
          "A clerical slip with all numbers there: asked about, hardly charged.",
          _weighed(ETHER, 65.41, 62.48, 62.48, agent=CHLORIDE_2G)),
    Story("milligrams-for-grams", "plain-ether", _as_it_is, 80, 89,
          "The same three numbers in milligrams: a slip of a unit, to be asked about.",
          _weighed(ETHER, 62480.0, 65420.0, 65410.0, agent=CHLORIDE_2G)),
    Story("thrown-away-at-the-bench", "too-much-vinegar", _as_it_is, 55, 65,
          "A right plan, and the ester poured out with the bicarbonate: 0.2 g, written down.",
          _recorded(ESTER, 0.21, 0.21, agent=MAGNESIUM_3G,
                    changed=_with("wash-bicarbonate", keep="lower"))),
    Story("agent-left-in-and-weighed", "too-much-vinegar", _instead(
        "filter", Transfer(id="filter", flask="organic layer", into=RBF)), 50, 60,
          "9.5 g with the magnesium sulfate in it: one mistake, charged once.",
          _recorded(ESTER, 9.52, 9.50, agent=MAGNESIUM_3G)),
    Story("wet-and-clumped", "plain-ether", _as_it_is, 78, 85,
          "3.50 g, 107 %, the agent clumped and the ether cloudy by the own record: stopped early.",
          _recorded(ETHER, 3.51, 3.50, agent=CHLORIDE_2G, looks=("clumped", "cloudy"))),
    Story("drying-not-recorded", "plain-ether", _as_it_is, 80, 88,
          "Good work, but the drying row is blank: not recorded is not full marks.",
          _recorded(ETHER, 2.94, 2.93)),
    Story("cresol-and-all-as-weighed", "plain-ether", _ACIDIFIED, 66, 77,
          "Acidified: 3.28 g is what that plan leads to; charged in the plan, not again.",
          _recorded(ETHER, 3.29, 3.28, agent=("dry", 2.5, 5, 20.0))),
)


def _lines(story: Story, result: Assessment, off: float, loud: bool) -> Iterator[str]:
    mark = "" if off == 0 else f"{off:+.1f}"
    yield (f"{story.key:28} {story.exercise:20} {total(result):5.1f}  "
           f"{story.low:3.0f}..{story.high:<3.0f} {mark:>6}  {story.reason}")
    for check in result.checks if loud else ():
        yield f"    {check.name} {check.points:.1f} of {check.out_of:g}  {check.note}"
        for f in check.findings:
            lost = f"-{f.score_loss:.3f}" if f.charged and f.score_loss else ""
            yield f"        {lost:6} {f.strength} {f.code} @{f.step}: {f.message}"


def main(keys: list[str]) -> None:
    """Print the totals given beside the ranges; with keys, only those, with what was charged."""
    found = []
    for story in STORIES:
        if keys and story.key not in keys:
            continue
        result = story.assessed()
        found.append(beside(story, total(result)))
        print("\n".join(_lines(story, result, found[-1], bool(keys))), flush=True)  # noqa: T201
    print(  # noqa: T201
        f"{sum(off == 0 for off in found)} of {len(found)} inside, "
        f"{sum(abs(off) <= CLOSE for off in found)} within {CLOSE:g} points, "
        f"{sum(off > CLOSE for off in found)} too high, "
        f"{sum(off < -CLOSE for off in found)} too low")


if __name__ == "__main__":
    main(sys.argv[1:])
