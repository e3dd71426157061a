"""Finishes the document that is generated from views and schemas.

It is done once, when somebody first asks for the document, so that it costs no start any time.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import Schema

from service.access.rules import ANYONE, RULES
from service.access.scopes import SESSION_NEEDS, SITE_NEEDS
from service.contract.bodies import add_tables, describe_parameters, say_what_may_be_added
from service.contract.examples import add_examples
from service.contract.refusals import add_refusals, operations
from service.contract.schemas import describe_schemas, drop_unused, number_steps
from service.contract.spec_patch import add_spec_patch
from service.contract.webhooks import webhooks_section
from service.http.documented import SENDS_FILE, TAGGED
from service.runtime.idempotency import REPLAYED
from worker.store.ledger import Role

_WHO: dict[Role, str] = {
    "tutor": "a tutor",
    "site": "a course site",
    "student": "a student",
    "local": "the user of a machine without tutors",
}
Json = dict[str, Any]


def finish(contract: Json, kinds: Mapping[str, type[Schema]]) -> Json:
    """The document as it is sent.

    Args:
        contract: What apispec made of views and schemas; it is changed.
        kinds: The schemas by their names in the document.
    """
    number_steps(contract)
    add_spec_patch(contract)
    add_tables(contract)
    describe_parameters(contract)
    describe_schemas(contract, kinds)
    add_refusals(contract)
    _say_who_may_ask(contract)
    _add_answers(contract)
    drop_unused(contract)
    say_what_may_be_added(contract)
    add_examples(contract)
    contract["webhooks"] = webhooks_section()
    return contract


def _say_who_may_ask(contract: Json) -> None:
    """Tell in each description whose key the operation takes."""
    roles_of = {endpoint.partition(".")[2]: roles for endpoint, roles in RULES.items()}
    for _, _, operation in operations(contract):
        roles = roles_of.get(operation["operationId"], frozenset())
        if roles is ANYONE:
            said = "Anyone may ask, without a key."
        else:
            named = [word for role, word in _WHO.items() if role in roles]
            said = f"May ask: {', '.join(named)}.{_scope_of(operation['operationId'])}"
        before = operation.get("description", "")
        operation["description"] = f"{before}\n\n{said}" if before else said


def _scope_of(operation_id: str) -> str:
    """A sentence on the scope that a course site, or a session, needs; often none."""
    name = operation_id
    needs = {
        who: next((scope for view, scope in table.items() if view.partition(".")[2] == name), None)
        for who, table in (("a course site", SITE_NEEDS), ("a session", SESSION_NEEDS))
    }
    told = [f"{who} needs the scope `{scope}`" for who, scope in needs.items() if scope]
    return f" Of these {', and '.join(told)}." if told else ""


def _add_answers(contract: Json) -> None:
    """Add the answers that what an operation is brings along: parts of files, where it is made."""
    for _, _, operation in operations(contract):
        answers = operation["responses"]
        if operation.pop(TAGGED, False):
            answers["304"] = {
                "description": "The document is the one that `If-None-Match` names.",
                "headers": {"ETag": answers["200"]["headers"]["ETag"]},
            }
            there = _header("If-None-Match", "The tag of a document that is there already.")
            operation.setdefault("parameters", []).append(there)
        if types := operation.pop(SENDS_FILE, ()):
            (schema,) = answers["200"]["content"].values()
            content = answers["200"]["content"] = dict.fromkeys(types, schema)
            headers = answers["200"]["headers"]
            answers["206"] = {
                "description": "The part of the file that `Range` asked for.",
                "headers": {**headers, "Content-Range": _text("Which bytes of how many.")},
                "content": content,
            }
            answers["304"] = {
                "description": "The file is the one that `If-None-Match` names.",
                "headers": {"ETag": headers["ETag"]},
            }
            operation.setdefault("parameters", []).extend(
                [
                    _header("Range", "A part of the file: `bytes=0-1023` (RFC 9110, 14.2)."),
                    _header("If-None-Match", "The tag of a file that is there already."),
                ]
            )
        if any(one["name"] == "Idempotency-Key" for one in operation.get("parameters", ())):
            for status in ("201", "202"):
                if status in answers:
                    where = _text("The path of what was made.")
                    again = _text("`?1`: this answer was given before; nothing was made again.")
                    told = {"Location": where, REPLAYED: again}
                    answers[status].setdefault("headers", {}).update(told)
        operation["responses"] = dict(sorted(answers.items()))


def _text(description: str) -> Json:
    return {"description": description, "schema": {"type": "string"}}


def _header(name: str, description: str) -> Json:
    return {"in": "header", "name": name, "required": False, **_text(description)}
