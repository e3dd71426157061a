"""What was deleted is noted, and deleted again in a ledger that still has it."""

from __future__ import annotations

from tests.unit.store.ledger.conftest import Asker
from worker.store.ledger import Ledger, NewClass, ReferenceRow


def test_each_deletion_notes_everything_that_goes(ledger: Ledger) -> None:
    tutor, _ = ledger.people.add_tutor("Ada")
    class_ = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Noon"))
    student = ledger.students.add(class_.id, tutor.id, ["Bo"])[0]
    asker = Asker(ledger, student.id)
    pack = asker.ask()
    ledger.classes.delete(class_.id, tutor.id)
    assert set(ledger.deleted_ids.unlisted()) == {
        class_.id,
        student.id,
        asker.reference.id,
        pack.id,
    }


def test_a_list_makes_an_older_ledger_delete_what_it_names(ledger: Ledger) -> None:
    tutor, issued = ledger.people.add_tutor("Ada")
    class_ = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Noon"))
    one, other = ledger.students.add(class_.id, tutor.id, ["Bo", "Cy"])
    kept, gone = Asker(ledger, one.id), Asker(ledger, other.id)
    pack, kept_pack = gone.ask(), kept.ask()
    photo = ledger.add_reference(
        ReferenceRow(owner_id=one.id, width_px=9, height_px=9, format="jpeg", sha256="1" * 64)
    )
    named = [other.id, photo.id, issued.access.id, "pck_never_there"]
    keys = ledger.deleted_ids.delete_again(named, "list")
    assert set(keys) == {
        f"references/{gone.reference.id}",
        f"packs/{pack.id}",
        f"references/{photo.id}",
    }
    assert [row.id for row in ledger.students.of_class(class_.id)] == [one.id]
    assert ledger.pack(kept_pack.id, one.id).state == "queued"
    assert ledger.people.opened_by(issued.key) is None
    assert ledger.deleted_ids.lists() == {"list"}


def test_what_a_list_has_is_noted_no_more(ledger: Ledger, asker: Asker) -> None:
    pack = asker.ask()
    ledger.cancel_or_delete(pack.id, "local")
    ledger.cancel_or_delete(pack.id, "local")
    ids = ledger.deleted_ids.unlisted()
    assert ids == [pack.id]
    ledger.deleted_ids.listed(ids, "first")
    assert ledger.deleted_ids.unlisted() == []
    ledger.deleted_ids.forget_lists(["first"])
    assert ledger.deleted_ids.lists() == set()
