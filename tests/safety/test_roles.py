"""Signing in and roles: every action of every page goes through one door, and the door asks for the role.

Claims are those of an identity token after OpenID Connect Core 1.0, section 5.1 (email, email_verified, name, sub).
"""

from __future__ import annotations

import ast
import importlib
import inspect
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from motifs.errors import InputError, NotAllowed
from motifs.ui import jobs, session
from motifs.ui.presenters.allowed import (
    ACTIONS,
    ACTIONS_PACKAGE,
    JOBS,
    MODULES,
    action_name,
    require,
    role_of_action,
    role_of_job,
)
from motifs.ui.presenters.people import FILE, Person, Role, person_of, read_people
from tests.ui.conftest import LOT, press, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from streamlit.testing.v1 import AppTest

    from motifs.catalogue import Catalogue

    Opener = Callable[..., AppTest]

UI = Path(session.__file__).parent
PEOPLE = """
[[person]]
address = "M.Oduya@lab.example"
name = "M. Oduya"
role = "manage"
[[person]]
address = "t.vance@lab.example"
name = "T. Vance"
role = "tag"
[[person]]
address = "guest@lab.example"
name = "A. Guest"
role = "look"
"""
AUTH = {
    "redirect_uri": "http://localhost:8501/oauth2callback",
    "cookie_secret": "a secret of the tests only, long enough",
    "client_id": "sherds",
    "client_secret": "x",
    "server_metadata_url": "http://localhost:9/.well-known/openid-configuration",
}


def modules() -> Iterator[tuple[str, ast.Module]]:
    for path in sorted((UI / "actions").glob("[a-z]*.py")):
        yield path.stem, ast.parse(path.read_text(encoding="utf-8"))


def calls(tree: ast.AST, name: str) -> list[ast.Call]:
    return [n for n in ast.walk(tree) if isinstance(n, ast.Call) and getattr(n.func, "id", "") == name]


def acting() -> list[str]:
    """Every top-level function of the actions that changes something through `act`."""
    return [
        f"{module}.{function.name}"
        for module, tree in modules()
        for function in tree.body
        if isinstance(function, ast.FunctionDef) and calls(function, "act")
    ]


def test_every_module_of_actions_is_listed() -> None:
    assert {name for name, _ in modules()} == set(MODULES)
    assert set(ACTIONS) <= set(acting())
    assert len(acting()) > 60


def test_whatever_writes_on_the_page_goes_through_the_door() -> None:
    """Pages, components and presenters begin no transaction; actions do, only inside the work that they hand to `act`."""
    for path in UI.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        begun = [n for n in ast.walk(tree) if isinstance(n, ast.Attribute) and n.attr == "transaction"]
        if path.parent.name != "actions":
            assert not begun, f"{path.name} writes past the door"
            assert path.name == "session.py" or not calls(tree, "act"), (
                f"{path.name}: an action belongs into ui/actions"
            )
            continue
        for function in [node for node in tree.body if isinstance(node, ast.FunctionDef)]:
            assert not any(n in begun for n in ast.walk(function)) or calls(function, "act"), function.name


def test_every_job_that_is_asked_for_is_listed() -> None:
    asked = set()
    for path in [*(UI / "pages").glob("*.py"), *(UI / "components").glob("*.py")]:
        for call in calls_of_attribute(ast.parse(path.read_text(encoding="utf-8")), "do_waiting"):
            constant = call.args[0]
            assert isinstance(constant, ast.Attribute), path.name
            asked.add((path, constant.attr))
    found = {job_constant(name, path) for path, name in asked}
    assert found == set(JOBS)


def calls_of_attribute(tree: ast.AST, name: str) -> list[ast.Call]:
    return [n for n in ast.walk(tree) if isinstance(n, ast.Call) and getattr(n.func, "attr", "") == name]


def job_constant(name: str, path: Path) -> str:
    """The value of `actions.NAME` where `actions` is whatever the page calls so."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == "motifs.ui.actions":
            for alias in node.names:
                module = importlib.import_module(ACTIONS_PACKAGE + alias.name)
                if hasattr(module, name):
                    return str(getattr(module, name))
    raise AssertionError(f"{path.name}: no actions with {name}")


@pytest.fixture
def refusals(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Somebody signed in who may only look; what the page says to her. Reaching the catalogue fails the test."""
    said: list[str] = []
    monkeypatch.setattr(session, "visitor", lambda: Person("A. Guest", Role.LOOK, is_signed_in=True))
    monkeypatch.setattr(session, "say", lambda kind, text: said.append(f"{kind}: {text}"))
    monkeypatch.setattr(session, "open_collection", lambda: pytest.fail("the catalogue was opened"))
    return said


@pytest.mark.parametrize("name", [name for name in acting() if role_of_action(name) > Role.LOOK])
def test_no_action_is_done_for_somebody_who_may_only_look(
    name: str, refusals: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    module, function = name.split(".")
    where = importlib.import_module(ACTIONS_PACKAGE + module)
    monkeypatch.setattr(where.st, "session_state", Anything())
    monkeypatch.setattr(where.st, "query_params", {})
    work = getattr(where, function)
    asked = [p for p in inspect.signature(work).parameters.values() if p.default is p.empty]
    work(**{p.name: Anything() for p in asked})
    assert refusals == [f"wrong: {refusals[0][7:]}"]
    assert "takes the role" in refusals[0]
    assert "yours is look" in refusals[0]


class Anything(dict[str, Any]):
    """Stands for a form, a number or a row: has every entry and attribute; an action must not get as far as to mind."""

    def __missing__(self, key: object) -> str:
        return "1"

    def get(self, key: str, default: Any = None) -> Any:
        return default

    def __getattr__(self, name: str) -> str:
        return "1"


@pytest.mark.parametrize("job", [job for job in JOBS if role_of_job(job) > Role.LOOK])
def test_no_job_is_done_for_somebody_who_may_only_look(job: str, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    monkeypatch.setattr(jobs, "visitor", lambda: Person("A. Guest", Role.LOOK, is_signed_in=True))
    monkeypatch.setattr(jobs, "say", lambda kind, text: said.append(f"{kind}: {text}"))
    monkeypatch.setattr(jobs.st, "session_state", {jobs.WAITING: job})
    monkeypatch.setattr(jobs.st, "rerun", lambda: None)
    jobs.do_waiting(job, lambda by, progress: pytest.fail("the job was begun"))
    assert len(said) == 1
    assert "takes the role" in said[0]


def test_what_nobody_listed_takes_the_highest_role() -> None:
    assert role_of_action("something_new.act") is Role.MANAGE
    assert role_of_job("something new") is Role.MANAGE
    for role in Role:
        for needed in Role:
            if role >= needed:
                require(Person("x", role), needed)
            else:
                with pytest.raises(NotAllowed, match="nothing was changed"):
                    require(Person("x", role), needed)


def test_an_action_is_named_by_its_work_whatever_holds_it() -> None:
    def work() -> None:
        """Inside a function, as the actions have it."""

    assert action_name(work).endswith("test_an_action_is_named_by_its_work_whatever_holds_it")
    assert action_name(lambda: None).endswith("test_an_action_is_named_by_its_work_whatever_holds_it")


# --- the list of people -------------------------------------------------------------------------------------------------


def test_without_a_list_nobody_comes_in(tmp_path: Path) -> None:
    people = read_people(tmp_path)
    with pytest.raises(NotAllowed, match="not among the people"):
        person_of({"email": "m.oduya@lab.example"}, people)


def test_addresses_are_one_in_any_case_and_names_are_the_lists(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text(PEOPLE, encoding="utf-8")
    person = person_of(
        {"email": "m.oduya@LAB.example", "name": "Somebody Else", "email_verified": True}, read_people(tmp_path)
    )
    assert (person.name, person.role) == ("M. Oduya", Role.MANAGE)


@pytest.mark.parametrize("claims", [{}, {"email": ""}, {"email": None}, {"name": "M. Oduya", "sub": "1"}])
def test_no_address_is_nobody(claims: dict[str, Any], tmp_path: Path) -> None:
    (tmp_path / FILE).write_text('others = "look"', encoding="utf-8")
    with pytest.raises(NotAllowed, match="no e-mail address"):
        person_of(claims, read_people(tmp_path))


@pytest.mark.parametrize("verified", [False, "false", "False"])
def test_an_address_that_is_not_verified_is_nobody(verified: object, tmp_path: Path) -> None:
    (tmp_path / FILE).write_text(PEOPLE, encoding="utf-8")
    with pytest.raises(NotAllowed, match="not verified"):
        person_of({"email": "m.oduya@lab.example", "email_verified": verified}, read_people(tmp_path))


def test_others_go_by_their_address_not_by_the_name_they_typed(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text('others = "look"\n' + PEOPLE, encoding="utf-8")
    person = person_of({"email": "x@y.example", "name": "M. Oduya"}, read_people(tmp_path))
    assert (person.name, person.role) == ("x@y.example", Role.LOOK)


def test_a_change_of_the_list_holds_at_once(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text(PEOPLE, encoding="utf-8")
    assert person_of({"email": "guest@lab.example"}, read_people(tmp_path)).role is Role.LOOK
    (tmp_path / FILE).write_text(PEOPLE.replace('"look"', '"manage"'), encoding="utf-8")
    assert person_of({"email": "guest@lab.example"}, read_people(tmp_path)).role is Role.MANAGE
    (tmp_path / FILE).unlink()
    with pytest.raises(NotAllowed):
        person_of({"email": "guest@lab.example"}, read_people(tmp_path))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[person]", "is no TOML"),
        ('other = "look"', "'other' is nothing it can say"),
        ('others = "admin"', "is no role"),
        ("others = 3", "is no role"),
        ("person = 3", r"people are written as \[\[person\]\]"),
        ('[[person]]\naddress = "a@b"\nname = "A"', "takes address, name and role"),
        ('[[person]]\naddress = "ab"\nname = "A"\nrole = "tag"', "is no address"),
        ('[[person]]\naddress = "a@b"\nname = "../A"\nrole = "tag"', "person 1"),
        ('[[person]]\naddress = "a@b"\nname = ""\nrole = "tag"', "person 1"),
        (PEOPLE + PEOPLE, "listed twice"),
        (PEOPLE + '[[person]]\naddress = "b@b"\nname = "M. Oduya"\nrole = "look"', "listed twice"),
    ],
)
def test_a_list_that_cannot_be_lets_nobody_in_and_says_why(text: str, says: str, tmp_path: Path) -> None:
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=says) as caught:
        read_people(tmp_path)
    assert "\n" not in str(caught.value)


# --- the page -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def signed_in(collection: Path) -> Callable[..., AppTest]:
    """Open a page as somebody whom the log-in service vouches for; None: nobody signed in."""
    from streamlit.testing.v1 import AppTest

    from tests.ui.conftest import APP, TIMEOUT_S

    (collection / FILE).write_text(PEOPLE, encoding="utf-8")

    def opened(address: str | None, name: str = "lots", **in_address: str) -> AppTest:
        at = AppTest.from_file(APP, default_timeout=TIMEOUT_S)
        at.secrets["auth"] = AUTH
        at.user = {"is_logged_in": address is not None} | (
            {"email": address, "name": "Typed By Herself"} if address else {}
        )
        at.run()
        if name != "lots":
            at.switch_page(f"motifs/ui/pages/{name}.py")
        for key, value in in_address.items():
            at.query_params[key] = value
        return at.run()

    return opened


def test_nobody_signed_in_sees_nothing_of_the_collection(signed_in: Opener) -> None:
    pytest.importorskip("authlib")
    at = signed_in(None)
    assert [button.label for button in at.button] == ["Sign in"]
    assert LOT not in shown(at)


def test_without_the_package_the_way_in_says_so(signed_in: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    from motifs.ui import sign_in

    monkeypatch.setattr(sign_in, "find_spec", lambda name: None)
    at = signed_in(None)
    assert "Authlib is not installed" in shown(at)
    assert not at.button
    assert LOT not in shown(at)


def test_a_stranger_is_told_and_sees_nothing(signed_in: Opener) -> None:
    at = signed_in("stranger@elsewhere.example")
    assert "not among the people of this collection" in shown(at)
    assert LOT not in shown(at)
    assert [button.label for button in at.button] == ["Sign out"]


def test_a_broken_list_lets_nobody_in(signed_in: Opener, collection: Path) -> None:
    (collection / FILE).write_text("[[person]", encoding="utf-8")
    at = signed_in("m.oduya@lab.example")
    assert "is no TOML" in shown(at)
    assert LOT not in shown(at)


def test_who_may_look_sees_and_changes_nothing(signed_in: Opener, cat: Catalogue) -> None:
    before = cat.version()
    at = signed_in("guest@lab.example", "tagging")
    assert "A. Guest" in shown(at)
    assert not at.text_input or "Your name, for the record" not in [box.label for box in at.text_input]
    at.session_state["sheet_chosen"] = [f"{LOT}-001"]
    at.run()
    at.selectbox(key="tag_term").set_value(at.selectbox(key="tag_term").options[0])
    at = press(at.run(), "Put on")
    assert "takes the role tag, and yours is look" in shown(at)
    assert cat.version() == before


def test_who_may_tag_is_on_record_by_the_lists_name_and_manages_nothing(signed_in: Opener, cat: Catalogue) -> None:
    at = signed_in("t.vance@lab.example", "tagging")
    at.session_state["sheet_chosen"] = [f"{LOT}-001"]
    at.run()
    at.selectbox(key="tag_term").set_value(at.selectbox(key="tag_term").options[0])
    press(at.run(), "Put on")
    assert cat.history(LOT)[0].by == "T. Vance"
    at = signed_in("t.vance@lab.example", "records")
    at.segmented_control(key="records_task").set_value("Restricted")
    at.run()
    at.text_input(key="restrict_name").set_value(LOT)
    at = press(at.run(), "Do not show it")
    assert "takes the role manage, and yours is tag" in shown(at)
    assert cat.restrictions() == ()


def test_unlocked_is_locked_again_when_the_role_is_taken_away(
    signed_in: Opener, cat: Catalogue, collection: Path
) -> None:
    with cat.transaction(by="M. Oduya"):
        cat.restrict("lot", LOT, "burial")
    at = signed_in("m.oduya@lab.example")
    assert LOT not in shown(at)
    at.session_state["unlocked_for"] = "a reason"
    assert LOT in shown(at.run())
    (collection / FILE).write_text(PEOPLE.replace('"manage"', '"tag"'), encoding="utf-8")
    assert LOT not in shown(at.run())
