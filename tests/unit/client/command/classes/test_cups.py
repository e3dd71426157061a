"""What ipptool reports, told to people; the reports have the form of CUPS 2.4."""

from __future__ import annotations

from typing import Any

import pytest

from client.command.classes import cups
from ricalco_client.errors import ClientError

ADDRESS = "ipp://192.0.2.7/ipp/print"


def report(status: str, **attributes: Any) -> dict[str, Any]:
    """A report whose last step was answered so."""
    answer = {name.replace("_", "-"): value for name, value in attributes.items()}
    usual = {"attributes-charset": "utf-8", "attributes-natural-language": "en"}
    step = {"Name": "Print", "StatusCode": status, "ResponseAttributes": [usual, answer]}
    return {"Tests": [{"Name": "Can it?", "StatusCode": "successful-ok"}, step]}


def refused(told: dict[str, Any]) -> ClientError:
    """The error that a report becomes."""
    with pytest.raises(ClientError) as caught:
        cups._job_number(told, ADDRESS)
    assert ADDRESS in caught.value.detail
    return caught.value


def test_a_job_has_the_number_that_the_printer_gave(capsys: pytest.CaptureFixture[str]) -> None:
    assert cups._job_number(report("successful-ok", job_id=12), ADDRESS) == 12
    assert not capsys.readouterr().err
    substituted = "successful-ok-ignored-or-substituted-attributes"
    assert cups._job_number(report(substituted, job_id=13), ADDRESS) == 13
    assert "measure the first sheet" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("attributes", "said"),
    [
        ({"media": "iso_a3_297x420mm"}, "it has no paper called iso_a3_297x420mm"),
        ({"document_format": "application/pdf"}, "it takes no PDF"),
        ({"print_scaling_supported": ["auto", "fit"]}, "it cannot print at actual size"),
        ({"print_color_mode": "color"}, "it cannot print in color"),
        ({"job_priority": 50}, "it cannot do job-priority 50"),
        ({"status_message": "Paper\nis out."}, "refuses: Paper is out."),
        ({}, "refuses: server-error-busy."),
    ],
)
def test_a_refusal_names_what_the_printer_cannot_do(attributes: dict[str, Any], said: str) -> None:
    error = refused(report("server-error-busy", **attributes))
    assert error.code == "printer-refused"
    assert said in error.detail
    assert "--as-it-can" in error.detail


def test_a_printer_that_is_not_reached_is_another_error() -> None:
    error = refused({"Tests": [], "ErrorMessage": 'Unable to connect to "192.0.2.7"'})
    assert error.code == "printer-unreachable"
    assert "Is the printer on" in error.detail
