"""Dashboard and alert rules name only figures, labels and values that there are."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from service.app import create_app
from service.http.answers.problems import CODES
from worker.settings import Settings
from worker.store.ledger import PACK_STATES
from worker.store.metrics.families import FAMILIES, LEDGER_FAMILIES, Family

FOLDER = Path(__file__).parents[3] / "deploy" / "monitoring"
#: Labels that Prometheus itself adds.
ADDED = {"instance", "job"}
ENDINGS = {"counter": ("_total",), "gauge": ("",), "histogram": ("_bucket", "_sum", "_count")}


def samples() -> dict[str, set[str]]:
    """The labels of every sample's name; `up` is Prometheus' own."""

    def labels(family: Family, ending: str) -> set[str]:
        return {*family.labels, *ADDED, *(("le",) if ending == "_bucket" else ())}

    found = {
        family.name + ending: labels(family, ending)
        for family in (*FAMILIES, *LEDGER_FAMILIES)
        for ending in ENDINGS[family.kind]
    }
    return {**found, "up": set(ADDED)}


def panels() -> Iterator[tuple[str, str, str]]:
    """Title, query and legend."""
    document = json.loads((FOLDER / "grafana.json").read_text(encoding="utf-8"))
    for panel in document["panels"]:
        for target in panel["targets"]:
            yield panel["title"], target["expr"], target["legendFormat"]


def rules() -> list[dict[str, Any]]:
    """The alert rules."""
    document = yaml.safe_load((FOLDER / "alerts.yml").read_text(encoding="utf-8"))
    return [rule for group in document["groups"] for rule in group["rules"]]


QUERIES = [
    *((title, expr, legend) for title, expr, legend in panels()),
    *((rule["alert"], rule["expr"], "") for rule in rules()),
]


@pytest.mark.parametrize(("name", "query", "legend"), QUERIES, ids=[one[0] for one in QUERIES])
def test_a_query_names_what_there_is(name: str, query: str, legend: str) -> None:
    del name
    known = samples()
    named = set(re.findall(r"\b(?:ricalco_\w+|up)\b", query))
    assert named
    assert named <= set(known)
    labels = set[str]().union(*(known[one] for one in named))
    grouped = re.findall(r"by \(([^)]*)\)", query)
    used = {label.strip() for group in grouped for label in group.split(",")}
    used |= set(re.findall(r"[{,]\s*(\w+)\s*[=!]", query)) | set(re.findall(r"{{(\w+)}}", legend))
    assert used <= labels
    assert all(query.count(one) == query.count(other) for one, other in ("()", "{}", "[]"))


def test_values_of_labels_are_known(tmp_path: Path) -> None:
    app = create_app(Settings(data_dir=tmp_path))
    routes = {rule.rule for rule in app.url_map.iter_rules()}
    there = {"code": set(CODES), "state": set(PACK_STATES), "route": routes}
    found = [
        (label, value)
        for _, query, _ in QUERIES
        for label, values in re.findall(r'(code|state|route)[=!]~?"([^"]*)"', query)
        for value in values.split("|")
    ]
    assert len(found) > len(there)
    assert [one for one in found if one[1] not in there[one[0]]] == []
    app.extensions["ricalco"].ledger.close()


def test_every_rule_says_what_to_do_and_every_figure_is_shown() -> None:
    assert all(len(rule["annotations"]["summary"]) > 20 for rule in rules())
    shown = " ".join(query for _, query, _ in QUERIES)
    families = [family.name for family in (*FAMILIES, *LEDGER_FAMILIES)]
    assert [name for name in families if name not in shown] == []
