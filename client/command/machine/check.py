"""`ricalco check`: what is installed, reachable and writable, and how to mend the rest."""

from __future__ import annotations

import click

from client.command import exit_codes
from client.command.job.report import print_json, print_lines, table
from client.command.machine import probes


@click.command("check")
@click.option("--service", metavar="URL", help="Look at this service too.")
@click.option("--json", "as_json", is_flag=True, help="Tell the findings as JSON.")
def check(*, service: str | None, as_json: bool) -> None:
    """Look at this machine, and say how to mend it.

    What is installed, reachable, writable.
    """
    findings = probes.all_findings(service)
    if as_json:
        print_json([vars(finding) for finding in findings])
    else:
        rows = [(probes.mark(finding), finding.what, finding.found) for finding in findings]
        print_lines(table(("", "what", "found"), rows))
        print_lines(f"To mend {each.what}: {each.mend}" for each in findings if not each.good)
    if not all(finding.good for finding in findings):
        raise SystemExit(exit_codes.NOT_READY)
