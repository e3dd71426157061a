"""What people have, as the board of a class and an export ask for it."""

from __future__ import annotations

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from worker.store.ledger import Holding, Ledger, NewClass, NewPack, PackRow, ReferenceRow


def ask(asker: Asker, clock: Clock, title: str, lent: ReferenceRow | None = None) -> PackRow:
    """A pack with a plan, a second after the last one; perhaps of somebody else's photo."""
    clock.now += 1
    new = NewPack(
        owner_id=asker.owner_id,
        reference_id=(lent or asker.reference).id,
        payer_id=lent.owner_id if lent else None,
        title=title,
        spec={},
        plan={"title": title},
    )
    return asker.ledger.enqueue(new)


def test_of_a_class_only_the_plans_of_the_newest_photos_are_read(
    ledger: Ledger, clock: Clock
) -> None:
    tutor = ledger.people.add_tutor("Ada")[0].id
    shared = Asker(ledger, tutor).reference
    class_id = ledger.classes.add(NewClass(tutor_id=tutor, name="Noon")).id
    kit, lou, mo = (one.id for one in ledger.students.add(class_id, tutor, ["Kit", "Lou", "Mo"]))
    works = {who: Asker(ledger, who) for who in (kit, lou)}
    for title in ("old", "new", "newest"):
        last = {who: ask(asker, clock, title) for who, asker in works.items()}
    # What was cancelled says nothing of the photo any more.
    ledger.cancel_or_delete(last[kit].id, kit)
    for pack in ledger.holdings.of_person(lou).packs:
        ledger.cancel_or_delete(pack.id, lou)
    # A newer pack of another photo is what is shown, and says nothing of the own one.
    ask(works[kit], clock, "shared", shared)
    found = ledger.holdings.of_class(class_id)
    assert found.keys() == {kit, lou}
    told = ((kit, ["shared"], "shared", ["new"]), (lou, [], "newest", []))
    for who, newer, shown, planned in told:
        holding, whole = found[who], ledger.holdings.of_person(who)
        assert [pack.title for pack in holding.packs] == [*newer, "newest", "new", "old"]
        assert [pack.id for pack in holding.packs] == [pack.id for pack in whole.packs]
        assert holding.references == whole.references == (works[who].reference,)
        assert holding.shown is not None
        assert holding.shown.title == shown
        made = holding.made_of(works[who].reference.id)
        assert ([made.title] if made else []) == planned
        plans = [pack.plan for pack in holding.packs if pack.plan is not None]
        assert plans == [{"title": title} for title in planned]
        assert all(pack.plan == {"title": pack.title} for pack in whole.packs)
    assert ledger.holdings.of_person(mo) == Holding()
    assert Holding().shown is None
