"""Headers that every answer carries, and what a PDF's viewer needs instead."""

from __future__ import annotations

from flask import Flask, Response

from service.http.answers.headers import protect


def test_a_pdf_may_be_drawn_by_the_browser_but_framed_by_nobody() -> None:
    app = Flask("tried")
    protect(app)
    app.add_url_rule("/pack", "pack", lambda: Response(b"%PDF-", mimetype="application/pdf"))
    app.add_url_rule("/data", "data", lambda: Response("{}", mimetype="application/json"))
    ask = app.test_client().get
    assert ask("/pack").headers["Content-Security-Policy"] == "frame-ancestors 'none'"
    assert ask("/data").headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert ask("/pack").headers["X-Content-Type-Options"] == "nosniff"
