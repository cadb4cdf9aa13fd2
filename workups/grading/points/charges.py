"""From what a plan falls short to the points of its checks.

The checks that speak of the product (order, extraction, drying) share one account. A plan loses
of their points what it loses of the product, and what it spoils of it by what is weighed beside:

    lost = points of these checks x min(1, mean of SLOPE (short - UNCHARGED) + spoilt - SPOILT_FREE)

over the products, each at least 0, so the first three hundredths of every product are free, and a
plan that brings a sixth of the product has none of these points. What an extraction misses of the
exercise's goal is charged from the goal on: what is beyond the goal is free already. ``short`` is
what is sure of it (``shortfall.sure``), ``spoilt`` likewise. A part of one product
costs its share of the points whether there is one product or three. Nothing else decides how much
is lost: rules *explain* it.
Each cause takes what mending it brings back, earlier causes first; what no mend brings back is
charged at the place and step of the ledger, in its words. A cause takes its points from its own
check, and what that cannot bear from the others, in findings of the same ``cause``: where the
product is gone, there is nothing left that they could speak of.

A rule may ask for more than the product shows (a missed endpoint, a flask without a tare): then
it takes the larger of the two from its own check, never both.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.plan import WASTE
from workups.words.numbers import joined, percent
from workups.words.sentences import step_heading

from ..assessment import Finding, Number, Strength
from ..case import Case
from ..recorded.yieldcheck import of_enough
from ..rule import LOSS, RULES, band, is_sure, sure
from .ledger import AIR, GLASS, REACTION, Entry, How
from .shortfall import (
    FOREIGN_DRAWS,
    KINDS,
    Shortfall,
    TargetShortfall,
    losses_by_how,
)

Array = NDArray[np.float64]

PRODUCT_CHECKS = ("order", "extraction", "drying")
SAFETY = "layers_safety"
# Without a product a plan has at most this share of its points, for safety and bookkeeping; where
# less than ENOUGH_DELIVERED of what a good workup brings is weighed unspoilt it comes down to that.
MOST_WITHOUT_PRODUCT = 0.25
UNCHARGED, SLOPE, SPOILT_FREE = 0.03, 1.25, 0.02
WORTH_SAYING = 0.01
FOREIGN_LOSS = 0.05
LEAST_POINTS = 0.05
# From this share of it on a flask is the one that a product is in.
MOSTLY = 0.5
CHECK_OF: Mapping[How, str] = {
    How.OTHER_LAYER: "extraction", How.NOT_SET_FREE: "extraction", How.HELD: "drying",
    How.BOUND: "drying"}
WHY = (
    "The points follow the product: for every millimole the program keeps account of the flask it "
    "is in and of the step that put it there. What does not get into the flask that is weighed, "
    "beyond what the exercise's own routes lose too, is charged where it was lost.")
SOURCE = "amounts in every place at the end of the plan, as computed"
PREFIX = "ledger-"
LOST, LOST_OF_ALL = "product lost", "lost of all products"
# The nominal constants tell of an amount, the points are of what is sure of it: where the two are
# further apart than this, the words say so.
APART = 0.05
# A loss that may be anything within so much says between what; one that need not be a loss at all
# does so sooner.
WIDE, SOMEWHAT_WIDE = 0.2, 0.1

# An entry of a target's ledger, with the share of it that no finding answers for yet.
_Open = tuple[TargetShortfall, Entry, float]


@dataclass(frozen=True)
class Explained:
    """A finding with what mending it brings back, per draw: product (of what right routes bring)
    and the share that foreign matter spoils."""

    finding: Finding
    short: Array
    spoilt: Array


def _asked(case: Case, finding: Finding, drying_share: float) -> Finding:
    """A finding with what its rule asks for as share of its check: the rules of drying speak of the
    plan's part of it, and a slip with one of three products of a third of it."""
    if finding.check not in PRODUCT_CHECKS:
        return finding
    share = drying_share if finding.check == "drying" else 1.0
    return replace(finding, score_loss=share * _of_products(case, finding) * finding.score_loss)


def _of_products(case: Case, finding: Finding) -> float:
    """The share of the products that are in the flask of a finding's step; 1 where it is none's."""
    at = next((i for i, s in enumerate(case.plan.steps) if s.id == finding.step), None)
    flask = "" if at is None else case.plan.steps[at].acts_on
    held = [t for t in case.targets if at is not None
            and case.share_in(case.before(at), flask, t) > MOSTLY]
    return len(held) / len(case.targets) if held else 1.0


def explained(finding: Finding, before: Shortfall, after: Shortfall) -> Explained:
    """A finding that a mend takes from one shortfall to another."""
    return Explained(finding, before.short - after.short, before.spoilt - after.spoilt)


def unexplained(finding: Finding, draws: int) -> Explained:
    """A finding that no mend is known for, or that costs nothing that is weighed."""
    return Explained(finding, np.zeros(draws), np.zeros(draws))


def _mean(values: Array) -> float:
    return float(np.mean(values))


def _missing(written: Shortfall) -> float:
    """What is charged of the products for what is sure to be missing, 0..SLOPE: the mean over
    them."""
    return float(np.mean([_missing_of(t) for t in written.targets]))


def _missing_of(target: TargetShortfall) -> float:
    return SLOPE * max(sure(target.missed), sure(target.short) - UNCHARGED, 0.0)


def _spoilt(written: Shortfall) -> float:
    """The same for what is weighed beside them, 0..1."""
    return float(np.mean([_spoilt_of(t) for t in written.targets]))


def _spoilt_of(target: TargetShortfall) -> float:
    return max(0.0, sure(target.spoilt, FOREIGN_DRAWS) - SPOILT_FREE)


def _lost(written: Shortfall) -> float:
    """What is charged of the products for both together, the mean over them: the sum of the two,
    or what is sure of the sum where that is more. A product that is lost in some draws and spoilt
    in all others is worth nothing, however little of either is sure."""
    return float(np.mean([max(
        _missing_of(t) + _spoilt_of(t),
        sure(np.minimum(1.0, SLOPE * (t.short - UNCHARGED) + t.spoilt - SPOILT_FREE)),
    ) for t in written.targets]))


def priced(
    case: Case, found: Sequence[Explained], written: Shortfall, mended: Shortfall,
    drying_share: float,
) -> tuple[Finding, ...]:
    """The findings of a plan with what each takes of its check, and those of the ledger.

    ``written`` is the plan's own shortfall, ``mended`` what is left with all mends carried out;
    ``drying_share`` what of the drying check its plan part decides.
    ``score_loss`` of the findings that come in is what their rules ask for; of those that go out,
    the share of the check's points that they take.
    """
    accounts = [_Account(replace(e, finding=_asked(case, e.finding, drying_share))) for e in found]
    _scale(accounts, written, mended)
    rest = max(0.0, _mean(written.short) - sum(a.short for a in accounts))
    accounts += _of_ledger(case, accounts, written, rest)
    more = max(0.0, _mean(written.spoilt) - sum(a.spoilt for a in accounts))
    accounts += _of_foreign(case, written, more)
    return _charged(case, accounts, written)


class _Account:
    """What one finding answers for (the working of ``priced``)."""

    def __init__(self, found: Explained) -> None:
        self.finding = found.finding
        self.brought = 1.0
        self.per_draw = np.maximum(found.short, 0.0)
        self.short = max(0.0, _mean(found.short))
        self.spoilt = max(0.0, _mean(found.spoilt))

    @property
    def charged_by_mend(self) -> bool:
        return self.finding.cause == f"{self.finding.code}:{self.finding.step}"


def _scale(accounts: list[_Account], written: Shortfall, mended: Shortfall) -> None:
    """Mends may bring back no more than is missing, what they themselves lose included."""
    for name, total, left in (("short", written.short, mended.short),
                              ("spoilt", written.spoilt, mended.spoilt)):
        claimed = sum(getattr(a, name) for a in accounts)
        most = max(0.0, _mean(total) - _mean(left))
        if claimed > most:
            factor = most / claimed
            for account in accounts:
                setattr(account, name, getattr(account, name) * factor)


def _of_ledger(
    case: Case, accounts: list[_Account], written: Shortfall, rest: float
) -> list[_Account]:
    """What no mend brings back, laid to the entries of the ledger that are larger than in the
    right routes: to a finding that speaks of a loss at the same step, else to one of its own, which
    speaks of all products that went the same way to the same place there."""
    if rest < (WORTH_SAYING if _missing(written) > 0 else UNCHARGED / 2):
        return []
    entries = _open_entries(accounts, written)
    total = sum(left for _, _, left in entries)
    large = [e for e in entries if rest * e[2] >= WORTH_SAYING * total] or entries[:1]
    total = sum(left for _, _, left in large)
    alike: dict[tuple[str, How, str], list[_Open]] = {}
    for one in large:
        alike.setdefault((one[1].step, one[1].how, one[1].place), []).append(one)
    added = []
    for (step, _, _), ones in alike.items():
        there = next((a for a in accounts if a.finding.step == step
                      and a.charged_by_mend
                      and a.finding.strength is Strength.PRODUCT_LOSS), None)
        if there is None:
            there = _Account(unexplained(_entry_finding(case, ones), 1))
            added.append(there)
        there.short += rest * sum(left for _, _, left in ones) / total
        there.per_draw = there.per_draw + np.minimum(_of_all(case, ones), written.short)
    return added


def _of_all(case: Case, ones: Sequence[_Open]) -> Array:
    """What entries hold, as share of all products, (N,)."""
    shares = [target.standing.ledger.share(entry.mmol) for target, entry, _ in ones]
    return np.asarray(np.sum(shares, axis=0) / len(case.targets))


def _open_entries(
    accounts: list[_Account], written: Shortfall
) -> list[_Open]:
    """Entries with the share (mean, over all targets) that is beyond the right routes' and that no
    finding at that step answers for yet; the largest where nothing is open."""
    found: list[_Open] = []
    claimed: dict[str, float] = {}
    for account in accounts:
        claimed[account.finding.step] = claimed.get(account.finding.step, 0.0) + account.short
    for target in written.targets:
        ledger = target.standing.ledger
        by_how = losses_by_how(ledger)
        for entry in ledger.entries:
            share = _mean(ledger.share(entry.mmol))
            whole = by_how[entry.how]
            beyond = max(0.0, whole - target.mark.losses.get(entry.how, 0.0))
            part = share / whole * beyond / len(written.targets) if whole > 0 else 0.0
            taken = min(part, claimed.get(entry.step, 0.0))
            claimed[entry.step] = claimed.get(entry.step, 0.0) - taken
            if part - taken > UNCHARGED / 2:
                found.append((target, entry, part - taken))
    if found or not any(t.standing.ledger.entries for t in written.targets):
        return found
    largest = max(((t, e) for t in written.targets for e in t.standing.ledger.entries),
                  key=lambda pair: _mean(pair[0].standing.ledger.share(pair[1].mmol)))
    return [(*largest, 1.0)]


@lru_cache(maxsize=1)
def ledger_words() -> Mapping[str, Mapping[str, str]]:
    """What is said of each way of losing: title, message and change."""
    text = files("workups.grading.points") / "data" / "ledger_words.toml"
    return tomllib.loads(text.read_text(encoding="utf-8"))


def code_of(key: str) -> str:
    """The code of a ledger finding."""
    return PREFIX + key.replace(" ", "-")


def ledger_titles() -> dict[str, str]:
    """Titles of all ledger findings by their code."""
    return {code_of(key): words["title"] for key, words in ledger_words().items()}


def _place(place: str) -> str:
    return {WASTE: "the waste", GLASS: GLASS, AIR: AIR, REACTION: REACTION}.get(
        place, f"'{place}'")


def _product(case: Case, target: str) -> str:
    return "the product" if len(case.targets) == 1 else case.inventory.names[target]


def follows_from_a_cause(finding: Finding) -> bool:
    """Whether a finding only says that its check lost its points to a cause told elsewhere."""
    return finding.code in (code_of("not there"), code_of("spoilt there"))


def _finding(key: str, check: str, strength: Strength, step: str, words: Mapping[str, str],
             numbers: tuple[Number, ...] = ()) -> Finding:
    said = ledger_words()[key]
    code = code_of(key)
    return Finding(code, check, strength, step, said["message"].format(**words), said["change"],
                   WHY, SOURCE, numbers, cause=f"{code}:{step}", charged=True)


def _entry_finding(case: Case, ones: Sequence[_Open]) -> Finding:
    entry, lost = ones[0][1], band(_of_all(case, ones))
    shares = {t.standing.ledger.target: t.standing.ledger.share(e.mmol) for t, e, _ in ones}
    bands = [band(share) for share in shares.values()]
    at = next((i for i, s in enumerate(case.plan.steps) if s.id == entry.step), None)
    after = ("" if at is None else
             f" after step {at + 1} ({step_heading(case.plan.steps[at], case.exercise)})")
    first, *others = shares
    products = [_product(case, first), *(
        f"{percent(b.nominal)} of {_product(case, target)}"
        for target, b in zip(others, bands[1:], strict=True))]
    words = {"share": percent(bands[0].nominal), "product": joined(products),
             "place": _place(entry.place), "after": after}
    number = Number(lost_name(case), lost.nominal * 100, "%", lost.low * 100, lost.high * 100)
    found = _finding(entry.how.value, CHECK_OF.get(entry.how, "order"),
                     Strength.PRODUCT_LOSS if any(map(is_sure, bands)) else Strength.ADVICE,
                     entry.step, words,
                     (number,))
    whole = "of the product" if len(case.targets) == 1 else "of all products"
    shares_of_all = _of_all(case, ones)
    return _and_how_sure(found, shares_of_all, whole, sure(shares_of_all))


def _and_how_sure(
    finding: Finding, shares: Array, of_what: str, charged: float
) -> Finding:
    """A finding that says what its points are of, where its constants decide too much."""
    within = band(shares)
    told = within.nominal >= WORTH_SAYING or charged < WORTH_SAYING
    if told and abs(charged - within.nominal) <= APART:
        return finding
    return replace(finding, message=(
        f"{finding.message} That is uncertain: it may be anything from {percent(within.low)} "
        f"to {percent(within.high)} {of_what}, and the points are of {percent(charged)}."))


def _and_between(finding: Finding, least: float, most: float, name: str) -> Finding:
    """A finding of a rule that says between what its loss may be, where that is a wide range, or
    one that begins where nothing would be called a loss."""
    narrow = most - least < (SOMEWHAT_WIDE if least < LOSS <= most else WIDE)
    if narrow or finding.code.startswith(PREFIX) or "uncertain" in finding.message:
        return finding
    of_what = "of the product" if name == LOST else "of all products"
    return replace(finding, message=(
        f"{finding.message} How much is lost is uncertain: between {percent(least)} and "
        f"{percent(most)} {of_what}. The points are of what is sure of it."))


def _of_foreign(case: Case, written: Shortfall, more: float) -> list[_Account]:
    """What is weighed with the product and no mend takes out."""
    if more * len(written.targets) < SPOILT_FREE or _spoilt(written) <= 0:
        return []
    worst = max(written.targets, key=lambda t: _mean(t.spoilt))
    product = _product(case, worst.standing.ledger.target)
    step = case.ends_with(worst.standing.ledger.target)
    if _mean(worst.not_isolated) > _mean(worst.by_excess):
        undone = band(worst.undone)
        account = _Account(unexplained(_finding(
            "not isolated", "order", Strength.PRODUCT_LOSS, step,
            {"product": product, "share": percent(min(1.0, undone.nominal))}), 1))
        account.spoilt = more
        return [account]
    kinds = [k for k in KINDS if _mean(worst.excess[k]) >= WORTH_SAYING / 2] or [
        max(KINDS, key=lambda k: _mean(worst.excess[k]))]
    amounts = {k: band(worst.standing.foreign[k]) for k in kinds}
    numbers = tuple(Number(f"{k} in the product", b.nominal * 100, "%", b.low * 100, b.high * 100)
                    for k, b in amounts.items())
    words = {"product": product, "what": joined(kinds),
             "share": percent(sum(b.nominal for b in amounts.values()))}
    check = "drying" if set(kinds) <= set(KINDS[:2]) else "order"
    found = _finding("weighed with it", check, Strength.ADVICE, step, words, numbers)
    foreign = np.sum([worst.standing.foreign[k] for k in kinds], axis=0)
    found = _and_how_sure(found, foreign, "of that mass", sure(foreign, FOREIGN_DRAWS))
    account = _Account(unexplained(found, 1))
    account.spoilt = more
    return [account]


def _charged(
    case: Case, accounts: list[_Account], written: Shortfall
) -> tuple[Finding, ...]:
    """Every finding with its share of its check; then, in the other checks, what theirs could not
    bear."""
    points = {name: float(case.exercise.rubric.points.get(name, 0.0)) for name in PRODUCT_CHECKS}
    pool = sum(points.values())
    left, over = dict(points), []
    # Each cause's share of what is lost by the means, which add up; how much of it is charged by
    # what is sure.
    short, spoilt = _mean(written.short), _mean(written.spoilt)
    beyond, spoilt_beyond = _missing(written), _spoilt(written)
    per_short = beyond / short if short > 0 else 0.0
    per_spoilt = spoilt_beyond / spoilt if spoilt > 0 else 0.0
    lost = _lost(written)
    more = lost - beyond - spoilt_beyond
    if more > 0:
        # Sure of both together alone: laid to each by its mean.
        per_short, per_spoilt = (per + more / (short + spoilt) for per in (per_short, per_spoilt))
    total = pool * min(1.0, lost)
    findings = []
    owed = [pool * (a.short * per_short + a.spoilt * per_spoilt) for a in accounts]
    # Where there is no more to lose every cause bears its part, or the last ones would seem free.
    part = min(1.0, total / sum(owed)) if sum(owed) > 0 else 1.0
    for account, due in zip(accounts, (part * o for o in owed), strict=True):
        # Missing is counted of what right routes bring; people read shares of all there was.
        account.brought = written.brought
        findings.append(_settled(account, due, points, left, lost_name(case)))
        taken = findings[-1].score_loss * points.get(account.finding.check, 0.0)
        over.append((findings[-1], max(
            0.0, due - taken if account.finding.check in PRODUCT_CHECKS else due)))
    findings += _elsewhere(case, over, written, points, left)
    return (*findings, *_safety_alone(case, findings, written))


def _safety_alone(
    case: Case, findings: Sequence[Finding], written: Shortfall
) -> list[Finding]:
    """What the layers and safety check loses of a rubric that gives more for it than a plan without
    a product may have."""
    rubric = case.exercise.rubric.points
    out_of = float(rubric.get(SAFETY, 0.0))
    most = MOST_WITHOUT_PRODUCT * sum(p for n, p in rubric.items() if n != "reagent_table")
    there = of_enough(written.worth)
    if out_of <= most or there >= 1.0:
        return []
    taken = (1.0 - most / out_of) * (1.0 - there)
    causes = (f for f in findings if f.charged and not follows_from_a_cause(f))
    cause = max(causes, default=None,
                key=lambda f: f.score_loss * rubric.get(f.check, 0.0))
    finding = replace(_not_there(case, cause, written, SAFETY), score_loss=taken)
    return [finding] if taken * out_of >= LEAST_POINTS else []


def _not_there(
    case: Case, cause: Finding | None, written: Shortfall, check: str
) -> Finding:
    """That a check has nothing to speak of: how much is missing, or spoilt if that is more, and
    with which finding the cause stands; whoever overrules the one overrules the other."""
    rule = RULES.get(cause.code) if cause else None
    title = rule.title if rule else ledger_titles().get(cause.code, "") if cause else ""
    short, spoilt = _mean(written.short), _mean(written.spoilt)
    words = {"share": percent(max(short, spoilt)),
             "product": "the product" if len(case.targets) == 1 else "the products",
             "cause": f"“{title}”" if title else "the other checks"}
    key = "not there" if short >= spoilt else "spoilt there"
    found = _finding(key, check, Strength.PRODUCT_LOSS, cause.step if cause else "", words)
    return found if cause is None else replace(found, cause=cause.cause)


def _settled(
    account: _Account, due: float, points: Mapping[str, float], left: dict[str, float], name: str
) -> Finding:
    """One finding with what it takes of its own check: what its rule asks for or what is due for
    the product, whichever is more, as far as the check has it."""
    finding = account.finding
    if finding.check not in PRODUCT_CHECKS:
        return _told(account, replace(finding, charged=finding.score_loss > 0), name)
    out_of = points[finding.check]
    asked = finding.score_loss
    if out_of <= 0:
        return _told(account, replace(finding, charged=asked > 0 or due >= LEAST_POINTS), name)
    taken = min(max(asked * out_of, due), left[finding.check])
    taken = taken if taken >= LEAST_POINTS or asked > 0 else 0.0
    left[finding.check] -= taken
    charged = taken > 0 or (
        max(asked * out_of, due) >= LEAST_POINTS and left[finding.check] < LEAST_POINTS)
    return _told(account, replace(finding, score_loss=taken / out_of, charged=charged), name)


def lost_name(case: Case) -> str:
    """What a number is called that says how much is lost: of several products it is the share of
    all, while the words may speak of one."""
    return LOST if len(case.targets) == 1 else LOST_OF_ALL


def _told(account: _Account, finding: Finding, name: str) -> Finding:
    """Strength and number from what the finding answers for, so that they agree with its points."""
    lost = band(account.per_draw)
    harmless = account.short < WORTH_SAYING and account.spoilt < FOREIGN_LOSS
    if not finding.charged:
        calm = harmless and account.charged_by_mend
        return replace(finding, strength=Strength.ADVICE) if (
            calm and finding.strength is Strength.PRODUCT_LOSS) else finding
    # What the mend alone would bring says another number where it is not what is charged.
    numbers = tuple(n for n in finding.numbers if n.name not in (LOST, LOST_OF_ALL))
    if account.short >= WORTH_SAYING:
        whole = account.brought
        least = max(0.0, min(lost.low, account.short)) * whole
        most = min(1.0, max(lost.high, account.short)) * whole
        numbers += (Number(name, 100 * account.short * whole, "%", 100 * least, 100 * most),)
        finding = _and_between(finding, least, most, name)
    strength = finding.strength
    if finding.score_loss > 0 and strength is Strength.INFORMATION:
        strength = Strength.ADVICE
    is_loss = account.short >= LOSS and is_sure(lost)
    if is_loss and strength in (Strength.ADVICE, Strength.INFORMATION):
        strength = Strength.PRODUCT_LOSS
    may_be = account.short >= WORTH_SAYING and account.spoilt < FOREIGN_LOSS and not is_loss
    if may_be and strength is Strength.PRODUCT_LOSS:
        strength = Strength.ADVICE
    return replace(finding, numbers=numbers, strength=strength)


def _elsewhere(
    case: Case, over: Sequence[tuple[Finding, float]], written: Shortfall,
    points: Mapping[str, float], left: Mapping[str, float],
) -> list[Finding]:
    """What a lost product takes from the checks that its cause does not belong to, cause by cause:
    ``over`` is what each could not take from its own."""
    room, asked = sum(left.values()), sum(due for _, due in over)
    if min(room, asked) < LEAST_POINTS:
        return []
    share = min(1.0, room / asked) / room
    return [
        replace(_not_there(case, cause, written, name), score_loss=taken / points[name])
        for name in PRODUCT_CHECKS for cause, due in over
        if (taken := due * share * left[name]) >= LEAST_POINTS]
