"""What the offer for faces promises, for pictures and faces of all kinds."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, reject, settings
from hypothesis import strategies as st

from tests.pictures.planted_faces import planted_face, reading_with
from tests.property.test_layout import specs, study
from worker.errors import SpecError
from worker.layout.offers.suggestions import changed
from worker.layout.planning import plan_sheets
from worker.spec.json import dump_spec, load_spec
from worker.spec.reading import Face
from worker.spec.spec import Spec

places = st.floats(0.05, 0.95)
some_faces = st.lists(
    st.builds(planted_face, places, places, st.floats(0.02, 0.5)), min_size=1, max_size=3
)


@settings(max_examples=40, deadline=None)
@given(specs, some_faces, st.sampled_from([0.0, 0.0, 12.0, -30.0]))
def test_taken_it_takes_the_sheets_that_were_said_and_no_seam_crosses_it(
    spec: Spec, faces: list[Face], turn: float
) -> None:
    seen = replace(study(7), reading=reading_with(*faces))
    spec = replace(spec, rotate_deg=turn)
    try:
        plan = plan_sheets(spec, seen, max_sheets=60)
    except SpecError:
        reject()
    for offer in (one for one in plan.suggestions if one.code == "protect-face"):
        taken = changed(spec, offer.change)
        # It is a spec that the service takes.
        assert load_spec(dump_spec(taken)) == taken
        after = plan_sheets(taken, seen, max_sheets=60)
        crossed = [one.code for one in after.warnings].count("protected-area-crossed")
        before = [one.code for one in plan.warnings].count("protected-area-crossed")
        if offer.sheet_count is not None:
            assert after.sheet_count == offer.sheet_count
            assert crossed <= before
        # What was taken is not offered again.
        for again in (one for one in after.suggestions if one.code == "protect-face"):
            assert not set(again.change.protect or ()) & set(offer.change.protect or ())
