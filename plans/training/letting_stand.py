"""Letting stand: what was issued is not issued again for a trifle.

Law: only a run that is cut now and was cut before, of the same kind on the same day, is left as it stands, and
only by less than a change worth making. What the answer gives back whole (the plan itself) is always given back.
A trifle too much is left only within the tolerance that the plan has, never under an open health note; so what
stands can exceed a limit once by that tolerance, and never grows. Standing is an input, no computed volume.
"""

from __future__ import annotations

from collections.abc import Sequence

from plans.training.caps import WeekCap
from plans.training.ledger import Item, Ledger
from plans.training.limits import to_come
from plans.training.reasons import CUT_ORDER
from plans.training.rising import Number
from plans.training.schedule import Standing

RISES = frozenset({"long_rise", "long_break"})
"""Limits of a single run that have the tolerance; minutes, hours and health notes have none."""


def let_stand(ledger: Ledger, items: Sequence[Item], cap: WeekCap, ran: Number) -> None:
    """Leave trifles of one week as they stand; raises the week's cap to what stands where that is a little more."""
    less: list[tuple[Item, int]] = []
    more: list[tuple[Item, int]] = []
    for item in to_come(items):
        stands = _trifle(ledger, item)
        if stands is not None:
            (less if stands < item.amount else more).append((item, stands))
    for item, stands in less:
        item.amount = stands
    if not more:
        return
    total = ran + sum(i.amount * i.unit for i in to_come(items))
    total += sum((stands - item.amount) * item.unit for item, stands in more)
    if cap.bear(total, ledger.inputs.rails.tolerance):
        for item, stands in more:
            item.amount = stands


def _trifle(ledger: Ledger, item: Item) -> int | None:
    """The native amount that stands, where the answer differs from it by too little to be proposed."""
    standing = ledger.inputs.standing.get(item.session.key)
    if standing is None or item.session.pinned or not _alike(item, standing):
        return None
    stands = standing.s if item.session.written_in == "time" else standing.mm
    if stands == item.amount or max(stands, item.amount) >= item.planned:
        return None
    rails = ledger.inputs.rails
    worth = max(ledger.rail(rails.small_mm), item.planned * item.unit * rails.small_share)
    if abs(stands - item.amount) * item.unit > worth:
        return None
    if stands < item.amount or (item.rule in CUT_ORDER and stands <= item.most):
        return stands
    return stands if item.rule in RISES and stands * (1 - rails.tolerance) <= item.most else None


def _alike(item: Item, standing: Standing) -> bool:
    """The same run but for its amount: same day, none taken out, whole repetitions or easy running as before."""
    quality = item.session.role == "quality" and not item.easy
    return (
        not standing.dropped_by
        and standing.day.toordinal() == item.day
        and standing.turned_easy == item.easy
        and standing.eased == item.eased
        and not quality
    )
