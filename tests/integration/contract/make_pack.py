"""Makes a pack with a client that was generated from the OpenAPI document.

Run in a process of its own, with the folder of the generated package on its path:
`make_pack.py URL PHOTO OUT`. It prints what it met on its way, as JSON.
"""

from __future__ import annotations

import io
import json
import sys
import time
from pathlib import Path

from generated import AuthenticatedClient, Client
from generated.api.classes import create_class
from generated.api.downloads import get_pack_pdf
from generated.api.packs import create_pack, get_pack
from generated.api.plans import create_plan
from generated.api.references import create_reference
from generated.api.students import add_students
from generated.api.tutors import create_tutor
from generated.models import (
    ClassSettings,
    Name,
    NewClass,
    Outline,
    PackRequest,
    PlanRequest,
    Problem,
    Roster,
    Sheet,
    Spec,
    SpecPatch,
    Support,
    SupportPatch,
    Tone,
    ToneStyle,
    Upload,
)
from generated.types import File

url, photo, out = sys.argv[1:]
stranger = Client(base_url=url)
tutor = create_tutor.sync(client=stranger, body=Name(name="Ada"))
client = AuthenticatedClient(base_url=url, token=tutor.key)

form = Upload(file=File(payload=io.BytesIO(Path(photo).read_bytes()), file_name="photo.jpg"))
reference = create_reference.sync(client=client, body=form)

wrong = Spec(support=Support(width_mm=1, height_mm=150))
problem = create_plan.sync(client=client, body=PlanRequest(reference_id=reference.id, spec=wrong))
assert isinstance(problem, Problem)

spec = Spec(
    support=Support(width_mm=150, height_mm=150),
    sheet=Sheet(format_="iso_a4_210x297mm"),
    tone=Tone(style=ToneStyle.OUTLINE, outline=Outline(line_mm=0.5)),
)
body = PackRequest(reference_id=reference.id, spec=spec, title="Généré")
pack = create_pack.sync(client=client, body=body, idempotency_key="one-pack")
again = create_pack.sync(client=client, body=body, idempotency_key="one-pack")
while pack.state in {"queued", "making"}:
    time.sleep(0.2)
    pack = get_pack.sync(pack.id, client=client)
Path(out).write_bytes(get_pack_pdf.sync(pack.id, client=client).payload.read())

defaults = SpecPatch(support=SupportPatch(width_mm=300, height_mm=200))
wish = NewClass(name="Noon", settings=ClassSettings(defaults=defaults))
class_ = create_class.sync(client=client, body=wish)
table = File(payload=io.BytesIO("Name\nAda\n王小明\n".encode()))
roster = add_students.sync(class_.id, client=client, body=table)
listed = add_students.sync(class_.id, client=client, body=Roster(names=["Kit"]))
print(
    json.dumps(
        {
            "key": tutor.key,
            "state": pack.state,
            "same": again.id == pack.id,
            "line_mm": pack.spec.tone.outline.line_mm,
            "sheets": pack.plan.sheet_count,
            "problem": [problem.code, problem.field],
            "width_mm": class_.settings.defaults.support.width_mm,
            "names": [one.name for one in [*roster.items, *listed.items]],
        }
    )
)
