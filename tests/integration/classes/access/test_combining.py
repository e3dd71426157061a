"""Whose photo may become whose pack, and who sees it then: every combination, one by one.

The rule here is written from the promise ("a student's photo is read by that student and by
the tutor of the class, by nobody else") and not from the service's own conditions.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest

from tests.integration.classes.studio import SPEC, Studio

ASKERS = ("tutor A", "site A", "tutor B", "student A1", "student A2", "student B1")
PHOTOS = ("tutor A", "tutor B", "site A", "student A1", "student A2", "student B1")
FOR = (None, "student A1", "student A2", "student B1")
#: Who may be shown each photo; a tutor's is theirs alone until they lend it, and what is a
#: course site's own its tutor sees.
SEE = {
    "tutor A": {"tutor A"},
    "tutor B": {"tutor B"},
    "site A": {"site A", "tutor A"},
    "student A1": {"student A1", "tutor A", "site A"},
    "student A2": {"student A2", "tutor A", "site A"},
    "student B1": {"student B1", "tutor B"},
}


def pupils_of(name: str) -> set[str]:
    """The students whom someone teaches."""
    return {
        one for one in PHOTOS if one.startswith(f"student {name[-1]}") and "student" not in name
    }


def receiver(asker: str, whose_photo: str, for_whom: str | None) -> str | None:
    """Who has the pack that is asked for; None: it must be refused."""
    if asker not in SEE[whose_photo]:
        return None
    owner = for_whom or (whose_photo if whose_photo in pupils_of(asker) else asker)
    if for_whom is not None and for_whom not in pupils_of(asker) | {asker}:
        return None
    # The photo's own owner, or a student to whom their tutor lends a photo of the tutor's, or of
    # the tutor's course site.
    lent = whose_photo == asker or (asker, whose_photo) == ("tutor A", "site A")
    return owner if lent or whose_photo == owner else None


@pytest.fixture(scope="module")
def studio(furnished: Studio, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """Everybody has a photo."""
    made = furnished.copy(tmp_path_factory.mktemp("combining") / "data")
    for number, name in enumerate(("tutor A", "tutor B", "site A", "student A2")):
        made.ids[f"photo {name}"] = made.send_photo(name, 500 + number)
    for letter in "AB":
        made.ids[f"photo student {letter}1"] = made.ids[f"reference_id {letter}"]
    yield made
    made.close()


def seen(studio: Studio) -> dict[str, set[str]]:
    """By photo, who is shown it."""
    found: dict[str, set[str]] = {photo: set() for photo in PHOTOS}
    for photo, name in product(PHOTOS, ASKERS):
        path = f"/v1/references/{studio.ids[f'photo {photo}']}/preview.jpg"
        with studio.asker(name).ask("GET", path) as answer:
            if answer.status_code == 200:
                found[photo].add(name)
    return found


def test_a_pack_shows_nobody_another_students_photo(studio: Studio) -> None:
    assert seen(studio) == SEE
    expected, wrong = {photo: set(names) for photo, names in SEE.items()}, []
    people = {studio.asker(name).ask("GET", "/v1/me").json["person"]["id"]: name for name in ASKERS}
    refused_first = sorted(product(ASKERS, PHOTOS, FOR), key=lambda one: receiver(*one) is not None)
    for asker, photo, whom in refused_first:
        wish = {"reference_id": studio.ids[f"photo {photo}"], "spec": SPEC}
        if whom is not None:
            wish["student_id"] = studio.ids[f"student_id {whom[-2:]}"]
        answer = studio.asker(asker).ask("POST", "/v1/packs", json=wish)
        owner = receiver(asker, photo, whom)
        if owner is None:
            if (answer.status_code, answer.json["code"]) != (404, "not-found"):
                wrong.append((asker, photo, whom, answer.status_code))
        elif answer.status_code != 202 or people[answer.json["owner_id"]] != owner:
            wrong.append((asker, photo, whom, answer.status_code, answer.json))
        else:
            expected[photo].add(owner)
    assert wrong == []
    assert seen(studio) == expected
    # What their tutor has lent them, they may ask for again themselves, and lend to nobody.
    lent = {"reference_id": studio.ids["photo tutor A"], "spec": SPEC}
    assert studio.asker("student A1").made("/v1/packs", lent)["owner_id"]


def test_a_batch_goes_by_the_same_rule(studio: Studio) -> None:
    wrong = []
    for tutor, photo, whom in product(("tutor A", "site A", "tutor B"), PHOTOS, FOR):
        letter = tutor[-1]
        if whom is not None and whom not in pupils_of(tutor):
            continue
        path = f"/v1/classes/{studio.ids[f'class_id {letter}']}/batches"
        item = {"reference_id": studio.ids[f"photo {photo}"]}
        if whom is not None:
            item["student"] = studio.ids[f"student_id {whom[-2:]}"]
        wish = {"title": "Jug", "spec": SPEC, "items": [item]}
        told = studio.asker(tutor).ask("POST", f"{path}/estimate", json=wish).json["packs"]
        made = studio.asker(tutor).ask("POST", path, json=wish).status_code
        # A line for nobody is the asker's own copy, which is of nobody else's photo.
        may = receiver(tutor, photo, whom) == (whom or tutor)
        # By now the tutor's photo is in batches of the class, and lent to its students.
        may |= (tutor, photo) == ("site A", "tutor A") and whom is not None
        if (told, made) != ((1, 202) if may else (0, 422)):
            wrong.append((tutor, photo, whom, told, made))
    assert wrong == []


def test_a_students_printer_is_not_shared_by_their_tutor(studio: Studio) -> None:
    path = f"/v1/printers/{studio.ids['printer_id A']}"
    answer = studio.asker("tutor A").ask("PATCH", path, json={"class_id": studio.ids["class_id A"]})
    assert (answer.status_code, answer.json["code"]) == (404, "not-found")
    assert studio.asker("student A2").ask("GET", path).status_code == 404


def test_what_an_older_version_combined_wrongly_shows_no_photo(
    furnished: Studio, tmp_path: Path
) -> None:
    """A pack that was made of a classmate's photo, before it was refused, lends nothing."""
    studio = furnished.copy(tmp_path / "data")
    pack, photo = studio.ids["pack_id A"], studio.ids["reference_id A"]
    other = studio.ids["student_id A2"]
    with studio.context.ledger.people._database.writing() as connection:
        connection.exec_driver_sql("update packs set owner_id = ? where id = ?", (other, pack))
    for part in ("", "/preview.jpg"):
        answer = studio.asker("student A2").ask("GET", f"/v1/references/{photo}{part}")
        assert answer.status_code == 404
    assert studio.asker("student A1").ask("GET", f"/v1/references/{photo}").status_code == 200
    studio.close()
