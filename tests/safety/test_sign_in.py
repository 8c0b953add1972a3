"""Signing in for real: the page's server, a browser, and a log-in service of this machine; who did it is on record by the list's name."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING
from unittest import mock

import pytest

from motifs.catalogue import Catalogue
from motifs.ui.presenters.people import FILE
from tests.browser.lab import ROOT, press, served, settle
from tests.safety.log_in_service import CLIENT, log_in_service
from tests.ui.conftest import LOT

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Page

PEOPLE = """
[[person]]
address = "m.oduya@lab.example"
name = "M. Oduya"
role = "manage"
[[person]]
address = "guest@lab.example"
name = "A. Guest"
role = "look"
"""


def secrets_of(service_address: str) -> str:
    return f"""
[auth]
redirect_uri = "http://localhost:{{port}}/oauth2callback"
cookie_secret = "a secret of this test only, and long enough"
client_id = "{CLIENT}"
client_secret = "not secret"
server_metadata_url = "{service_address}/.well-known/openid-configuration"
"""


def signed_in(browser: Browser, address: str) -> Page:
    """A fresh window in which somebody pressed Sign in."""
    page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
    page.goto(address)
    page.get_by_role("button", name="Sign in", exact=True).wait_for(timeout=60_000)
    assert LOT not in page.content()
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_role("button", name="Sign out", exact=True).wait_for(timeout=60_000)
    settle(page)
    return page


@pytest.mark.browser
@pytest.mark.slow
def test_people_sign_in_look_judge_and_sign_out(collection: Path, tmp_path: Path, browser: Browser) -> None:
    (collection / FILE).write_text(PEOPLE, encoding="utf-8")
    home = tmp_path / "home" / ".streamlit"
    home.mkdir(parents=True)
    (ROOT / ".artefacts").mkdir(exist_ok=True)
    with log_in_service() as service:
        (home / "secrets.toml").write_text(secrets_of(service.address), encoding="utf-8")
        with (
            mock.patch.dict(os.environ, {"HOME": str(home.parent)}),
            served(collection, ROOT / ".artefacts" / "sign_in.log") as at,
        ):
            service.person = {
                "sub": "1",
                "email": "m.oduya@lab.example",
                "email_verified": True,
                "name": "typed by herself",
            }
            page = signed_in(browser, at)
            assert "M. Oduya" in page.inner_text("body")
            assert "role manage" in page.inner_text("body")
            page.goto(f"{at}/sorting_table?lot={LOT.replace(' ', '%20')}")
            page.get_by_role("button", name="Sort", exact=True).first.wait_for(timeout=60_000)
            assert "Your name, for the record" not in page.inner_text("body")
            page.screenshot(path=ROOT / ".artefacts" / "signed_in.png")
            press(page, "Sign out")
            page.get_by_role("button", name="Sign in", exact=True).wait_for(timeout=60_000)

            service.person = {"sub": "2", "email": "guest@lab.example", "email_verified": True}
            page = signed_in(browser, at)
            page.goto(f"{at}/sorting_table?lot={LOT.replace(' ', '%20')}")
            page.get_by_role("button", name="Sort", exact=True).first.wait_for(timeout=60_000)
            press(page, "Sort")
            page.locator(".m-wrong", has_text="takes the role tag, and yours is look").wait_for(timeout=60_000)

            service.person = {"sub": "3", "email": "stranger@elsewhere.example"}
            page = signed_in(browser, at)
            assert "not among the people of this collection" in page.inner_text("body")
            page.screenshot(path=ROOT / ".artefacts" / "stranger.png")
    with Catalogue.open(collection) as cat:
        assert cat.latest_proposal(LOT, "vessels") is None
