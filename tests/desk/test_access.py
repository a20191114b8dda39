"""Who may see and change what: every address of the URL configuration, six people, GET and POST, all written out.

An address that is not in the table fails, so a new one can't be forgotten: add its line (and in `tests/everybody.py`
what stands for its arguments). The object in the address is Bea's, or Jonah's, who coaches her. POST sends nothing of
use, so 422 is the form's own answer: the door was open, the entry was not good enough.
"""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings as house
from django.db import connection, transaction
from django.test import Client

from tests.everybody import ATHLETE, COACH, HEAD, PEOPLE, STRANGER, Everybody, Route, everybody, routes

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(bool(house.REDIS_URL), reason="asks of the site, not of the database; once is enough"),
]

#   in   sent to sign-in          404  not theirs, or nothing there      409, 410  no longer so     422  not good enough
#   -    405: no such method      403  refused by the passkey ceremony, which answers a program
TABLE = """
address                   GET: stranger athlete other coach other head  |  POST: the same six
home                       in 302 302 302 302 302  |  in 302 302 302 302 302
health                    200 200 200 200 200 200  | 200 200 200 200 200 200
privacy                   200 200 200 200 200 200  |   -   -   -   -   -   -
sign-in                   200 302 302 302 302 302  | 422 302 302 302 302 302
ask-link                  200 200 200 200 200 200  | 422 422 422 422 422 422
sign-in-link              200 200 200 200 200 200  | 302 302 302 302 302 302
second-step                in 200 200 200 200 200  |  in 422 422 422 422 422
sign-out                    -   -   -   -   -   -  |  in  in  in  in  in  in
otp_webauthn:credential-registration-begin 403   -   -   -   -   -  | 403 200 200 200 200 200
otp_webauthn:credential-registration-complete 403   -   -   -   -   -  | 403 400 400 400 400 400
otp_webauthn:credential-authentication-begin -   -   -   -   -   -  | 200 200 200 200 200 200
otp_webauthn:credential-authentication-complete -   -   -   -   -   -  | 400 400 400 400 400 400
otp_webauthn:js-i18n-catalog 200 200 200 200 200 200  |   -   -   -   -   -   -
answer                    200 200 200 200 200 200  | 422 422 422 422 422 422
confirm                   200 200 200 200 200 200  | 200 200 200 200 200 200
new-address               200 200 200 200 200 200  | 200 200 200 200 200 200
address                    in 200 200 200 200 200  |  in 422 422 422 422 422
account                    in 200 200 200 200 200  |  in 200 200 200 200 200
password                   in 200 200 200 200 200  |  in 422 422 422 422 422
passkeys                   in 200 200 200 200 200  |  in 200 200 200 200 200
passkey-remove              -   -   -   -   -   -  |  in 302 404 404 404 404
codes                      in 200 200 200 200 200  |  in 200 200 200 200 200
codes-paper                 -   -   -   -   -   -  |  in 200 200 200 200 200
codes-remove                -   -   -   -   -   -  |  in 302 302 302 302 302
devices-end                 -   -   -   -   -   -  |  in 302 302 302 302 302
device-end                  -   -   -   -   -   -  |  in 302 404 404 404 404
join                      200 409 409 200 200 200  | 422 409 409 422 422 422
welcome                    in 200 200 404 404 404  |  in 422 422 404 404 404
invitations                in 404 404 200 200 200  |  in 404 404 422 422 422
invitations-print          in 404 404 200 200 200  |  in 404 404 200 200 200
invitation                 in 404 404 200 404 200  |  in 404 404 200 404 200
invitation-withdraw         -   -   -   -   -   -  |  in 404 404 302 404 302
invite                      -   -   -   -   -   -  |  in 404 404 302 404 302
profile                    in 200 200 404 404 404  |   -   -   -   -   -   -
my-about                   in 200 200 404 404 404  |  in 422 422 404 404 404
my-days                    in 200 200 404 404 404  |  in 422 422 404 404 404
my-calendar                in 200 200 404 404 404  |  in 302 302 404 404 404
my-data                    in 200 200 404 404 404  |  in 200 200 404 404 404
my-export                  in 200 200 404 404 404  |   -   -   -   -   -   -
my-leave                    -   -   -   -   -   -  |  in 422 422 404 404 404
my-erase                    -   -   -   -   -   -  |  in 422 422 404 404 404
feed                      200 200 200 200 200 200  |   -   -   -   -   -   -
athlete-data               in 404 404 404 404 200  |   -   -   -   -   -   -
athlete-export             in 404 404 404 404 200  |   -   -   -   -   -   -
athlete-erase               -   -   -   -   -   -  |  in 404 404 404 404 422
mail                       in 404 404 404 404 200  |  in 404 404 404 404 200
mail-test                   -   -   -   -   -   -  |  in 404 404 404 404 302
roster                     in 404 404 200 200 200  |  in 404 404 200 200 200
roster-act                  -   -   -   -   -   -  |  in 404 404 302 302 302
snooze                     in 404 404 200 404 200  |  in 404 404 422 404 422
snooze-wake                 -   -   -   -   -   -  |  in 404 404 302 404 302
roster-import              in 404 404 200 200 200  |  in 404 404 422 422 422
athlete                    in 404 404 200 404 200  |  in 404 404 200 404 200
athlete-note                -   -   -   -   -   -  |  in 404 404 422 404 422
athlete-time-off            -   -   -   -   -   -  |  in 404 404 422 404 422
session-words              in 404 404 200 404 200  |  in 404 404 422 404 422
messages                   in 404 404 200 200 200  |   -   -   -   -   -   -
to-many                    in 404 404 200 200 200  |  in 404 404 422 422 422
phrases                    in 404 404 200 200 200  |  in 404 404 422 422 422
phrase                     in 404 404 200 404 404  |  in 404 404 422 404 404
phrase-remove               -   -   -   -   -   -  |  in 404 404 302 404 404
thread                     in 404 404 200 404 200  |  in 404 404 422 404 422
thread-read                 -   -   -   -   -   -  |  in 404 404 302 404 302
log-for                    in 404 404 200 404 200  |  in 404 404 422 404 422
extra-for                  in 404 404 200 404 200  |  in 404 404 422 404 422
desk-note-add               -   -   -   -   -   -  |  in 404 404 422 404 422
desk-note-remove            -   -   -   -   -   -  |  in 404 404 302 404 302
athlete-health             in 404 404 200 404 200  |  in 404 404 422 404 422
clear-hold                  -   -   -   -   -   -  |  in 404 404 302 404 302
athlete-paces              in 404 404 200 404 200  |   -   -   -   -   -   -
athlete-card               in 404 404 200 404 200  |   -   -   -   -   -   -
athlete-basis               -   -   -   -   -   -  |  in 404 404 302 404 302
athlete-break               -   -   -   -   -   -  |  in 404 404 422 404 422
athlete-result              -   -   -   -   -   -  |  in 404 404 422 404 422
result-set-aside           in 404 404 200 404 200  |  in 404 404 422 404 422
result-take-back            -   -   -   -   -   -  |  in 404 404 302 404 302
card-proposals             in 404 404 302 302 302  |   -   -   -   -   -   -
card-proposals-accept       -   -   -   -   -   -  |  in 404 404 302 302 302
recard                      -   -   -   -   -   -  |  in 404 404 302 302 302
card-proposal-accept        -   -   -   -   -   -  |  in 404 404 302 404 302
card-proposal-refuse        -   -   -   -   -   -  |  in 404 404 302 404 302
templates                  in 404 404 200 200 200  |  in 404 404 200 200 200
template-new               in 404 404 200 200 200  |  in 404 404 422 422 422
template-upload            in 404 404 200 200 200  |  in 404 404 422 422 422
named-sessions             in 404 404 200 200 200  |  in 404 404 200 200 200
named-session-add          in 404 404 200 200 200  |  in 404 404 422 422 422
named-sessions-fill         -   -   -   -   -   -  |  in 404 404 302 302 302
named-session              in 404 404 200 200 200  |  in 404 404 422 422 422
named-session-delete        -   -   -   -   -   -  |  in 404 404 302 302 302
template                   in 404 404 200 200 200  |  in 404 404 200 200 200
template-facts             in 404 404 200 200 200  |  in 404 404 422 422 422
template-move               -   -   -   -   -   -  |  in 404 404 422 422 422
template-undo               -   -   -   -   -   -  |  in 404 404 422 422 422
template-example            -   -   -   -   -   -  |  in 404 404 302 404 302
template-session-new       in 404 404 200 200 200  |  in 404 404 422 422 422
template-session           in 404 404 200 200 200  |  in 404 404 422 422 422
template-session-remove     -   -   -   -   -   -  |  in 404 404 409 409 409
template-week               -   -   -   -   -   -  |  in 404 404 422 422 422
template-week-change        -   -   -   -   -   -  |  in 404 404 409 409 409
template-duplicate          -   -   -   -   -   -  |  in 404 404 302 302 302
template-archive            -   -   -   -   -   -  |  in 404 404 302 302 302
template-versions          in 404 404 200 200 200  |  in 404 404 200 200 200
template-restore            -   -   -   -   -   -  |  in 404 404 302 302 302
template-file              in 404 404 200 200 200  |  in 404 404 200 200 200
template-offer             in 404 404 200 200 200  |  in 404 404 422 422 422
template-assign            in 404 404 200 404 200  |  in 404 404 422 404 422
template-assign-many       in 404 404 200 200 200  |  in 404 404 422 422 422
assignment                 in 404 404 200 404 404  |  in 404 404 422 404 404
course                     in 404 404 200 404 200  |  in 404 404 422 404 422
course-append              in 404 404 200 404 200  |  in 404 404 422 404 422
course-pause                -   -   -   -   -   -  |  in 404 404 302 404 302
course-resume               -   -   -   -   -   -  |  in 404 404 302 404 302
course-end                  -   -   -   -   -   -  |  in 404 404 302 404 302
course-leave                -   -   -   -   -   -  |  in 404 404 302 404 302
proposals                  in 404 404 200 200 200  |  in 404 404 200 200 200
proposals-small             -   -   -   -   -   -  |  in 404 404 302 302 302
proposals-small-progress   in 404 404 302 302 302  |  in 404 404 302 302 302
proposals-what-is-small     -   -   -   -   -   -  |  in 404 404 404 404 422
proposal                   in 404 404 200 404 200  |  in 404 404 200 404 200
proposal-accept             -   -   -   -   -   -  |  in 404 404 302 404 302
proposal-refuse             -   -   -   -   -   -  |  in 404 404 302 404 302
proposal-undo               -   -   -   -   -   -  |  in 404 404 302 404 302
season-session-new         in 404 404 200 404 200  |  in 404 404 422 404 422
season-session             in 404 404 200 404 200  |  in 404 404 422 404 422
season-move                 -   -   -   -   -   -  |  in 404 404 422 404 422
season-undo                 -   -   -   -   -   -  |  in 404 404 409 404 409
season-drop                 -   -   -   -   -   -  |  in 404 404 422 404 422
season-follows             in 404 404 200 404 200  |   -   -   -   -   -   -
season-send                 -   -   -   -   -   -  |  in 404 404 409 404 409
choices                    in 404 404 200 404 200  |  in 404 404 200 404 200
choices-choose              -   -   -   -   -   -  |  in 404 404 422 404 422
versions                   in 404 404 200 404 200  |  in 404 404 200 404 200
version-undo                -   -   -   -   -   -  |  in 404 404 302 404 302
week                       in 404 404 200 200 200  |   -   -   -   -   -   -
log-grid                   in 404 404 200 200 200  |  in 404 404 302 302 302
group-session-new          in 404 404 200 200 200  |  in 404 404 422 422 422
group-session              in 404 404 200 404 200  |  in 404 404 302 404 302
group-session-change       in 404 404 200 404 200  |  in 404 404 422 404 422
group-session-remove        -   -   -   -   -   -  |  in 404 404 302 404 302
group-session-sheet        in 404 404 200 404 200  |   -   -   -   -   -   -
round                      in 404 404 200 200 200  |  in 404 404 302 302 302
practice                   in 404 404 200 200 200  |  in 404 404 200 200 200
practice-change            in 404 404 404 404 302  |  in 404 404 404 404 422
practice-attention         in 404 404 200 200 200  |  in 404 404 404 404 302
practice-rails             in 404 404 200 200 200  |  in 404 404 404 404 302
template-rails             in 404 404 200 200 200  |  in 404 404 302 302 302
athlete-rails              in 404 404 200 404 200  |  in 404 404 302 404 302
colleagues                 in 404 404 200 200 200  |  in 404 404 200 200 200
colleague-cover             -   -   -   -   -   -  |  in 404 404 404 404 422
colleague-add               -   -   -   -   -   -  |  in 404 404 404 404 422
colleague-end               -   -   -   -   -   -  |  in 404 404 404 404 302
colleague-leave             -   -   -   -   -   -  |  in 404 404 404 404 302
colleague-back              -   -   -   -   -   -  |  in 404 404 404 404 302
colleague-head              -   -   -   -   -   -  |  in 404 404 404 404 302
training-groups            in 404 404 200 200 200  |  in 404 404 422 422 422
training-group             in 404 404 200 200 200  |  in 404 404 422 422 422
training-group-remove       -   -   -   -   -   -  |  in 404 404 302 302 302
handouts                   in 404 404 200 200 200  |  in 404 404 422 422 422
group-sheet                in 404 404 200 404 200  |   -   -   -   -   -   -
handout-batch              in 404 404 200 404 404  |  in 404 404 200 404 404
handout-file               in 404 404 200 404 404  |  in 404 404 200 404 404
athlete-handout            in 404 404 200 404 200  |   -   -   -   -   -   -
athlete-season             in 404 404 200 404 200  |   -   -   -   -   -   -
races                      in 404 404 200 200 200  |   -   -   -   -   -   -
looking-back               in 404 404 200 200 200  |   -   -   -   -   -   -
race                       in 404 404 200 404 200  |  in 404 404 422 404 422
race-entry                 in 404 404 200 404 200  |  in 404 404 422 404 422
race-entry-pdf             in 404 404 200 404 200  |   -   -   -   -   -   -
race-splits                 -   -   -   -   -   -  |  in 404 404 422 404 422
race-recovery               -   -   -   -   -   -  |  in 404 404 302 404 302
today                      in 200 200 404 404 404  |  in 200 200 404 404 404
my-messages                in 200 200 404 404 404  |  in 422 422 404 404 404
my-messages-read            -   -   -   -   -   -  |  in 302 302 404 404 404
my-plan                    in 200 200 404 404 404  |   -   -   -   -   -   -
my-paces                   in 200 200 404 404 404  |   -   -   -   -   -   -
my-card                    in 200 200 404 404 404  |   -   -   -   -   -   -
my-result                  in 200 200 404 404 404  |  in 422 422 404 404 404
my-session                 in 200 404 404 404 404  |   -   -   -   -   -   -
log                        in 200 404 404 404 404  |  in 422 404 404 404 404
my-session-effort          in 200 404 404 404 404  |   -   -   -   -   -   -
session-say                 -   -   -   -   -   -  |  in 422 404 404 404 404
log-extra                  in 200 200 404 404 404  |  in 422 422 404 404 404
log-extra-again            in 200 404 404 404 404  |  in 422 404 404 404 404
log-file                   in 200 200 404 404 404  |  in 422 422 404 404 404
log-history                in 200 200 404 404 404  |  in 422 422 404 404 404
entry-take-back             -   -   -   -   -   -  |  in 302 404 404 404 404
all-as-planned              -   -   -   -   -   -  |  in 302 302 404 404 404
my-time-off                in 200 200 404 404 404  |  in 422 422 404 404 404
my-time-off-free            -   -   -   -   -   -  |  in 302 404 404 404 404
unwell                     in 200 200 404 404 404  |  in 422 422 404 404 404
my-handout                 in 200 200 404 404 404  |   -   -   -   -   -   -
my-season                  in 200 200 404 404 404  |   -   -   -   -   -   -
my-race                    in 200 200 404 404 404  |   -   -   -   -   -   -
my-race-entry              in 200 404 404 404 404  |   -   -   -   -   -   -
my-race-pdf                in 200 404 404 404 404  |   -   -   -   -   -   -
my-race-splits              -   -   -   -   -   -  |  in 422 404 404 404 404
phone-keep                 in 200 200 404 404 404  |   -   -   -   -   -   -
not-kept                   in 200 200 404 404 404  |   -   -   -   -   -   -
phone-worker               in 200 200 404 404 404  |   -   -   -   -   -   -
manifest                   in 200 200 404 404 404  |   -   -   -   -   -   -
"""


def table() -> dict[str, tuple[list[str], list[str]]]:
    found = {}
    for line in TABLE.strip().splitlines()[1:]:
        name, answers = line.split(None, 1)
        get, _, post = answers.partition("|")
        found[name] = (get.split(), post.split())
        assert (len(get.split()), len(post.split())) == (6, 6), f"six answers each for {name}"
    return found


EXPECTED = table()


def in_the_table() -> list[Route]:
    """The others fail in the first test, and once is enough."""
    return [route for route in routes() if route.name in EXPECTED]


# The few things that looking at a page writes, by address and table, and why.
MAY_WRITE = {
    # A coach's reading of a health note is written down for the athlete, also when it is read in the export.
    "athlete": {"athletes_notereading"},
    "athlete-health": {"athletes_notereading"},
    "athlete-export": {"athletes_notereading"},
    "round": {"athletes_notereading"},
    # What was computed is kept, to be found again: the roster's lines, the page that was made.
    "roster": {"coaching_rosterline"},
    "my-handout": {"plans_handout"},
    # What a calendar was told, so that its count never falls.
    "feed": {"coaching_feedevent"},
}


def fingerprint() -> dict[str, str]:
    """Every table of the database and a digest of its rows."""
    found = {}
    for model in apps.get_models(include_auto_created=True):
        names = [f.attname for f in model._meta.concrete_fields]
        rows = model._base_manager.order_by("pk").values_list(*names)
        found[model._meta.db_table] = hashlib.sha256(repr(list(rows)).encode()).hexdigest()
    return found


@contextmanager
def writing(tables: set[str]) -> Iterator[None]:
    """Collects the tables that are written to meanwhile."""

    def watch(execute: Callable[..., Any], sql: str, *rest: Any) -> Any:
        if written := re.match(
            r'\s*(?:INSERT (?:OR \w+ )?INTO|UPDATE|DELETE FROM|REPLACE INTO) "(\w+)"', sql
        ):
            tables.add(written[1])
        return execute(sql, *rest)

    with connection.execute_wrapper(watch):
        yield


@pytest.fixture
def all_of_them(settings: Any, tmp_path: Path) -> Everybody:
    settings.MADE_DIR = settings.BACKUP_DIR = tmp_path
    return everybody()


def answer(client: Client, method: str, address: str, **sent: Any) -> str:
    """The answer as the table writes it. The client stays signed in, whatever it was told."""
    kept = client.cookies.copy()
    came = client.post(address, sent) if method == "post" else client.get(address)
    client.cookies = kept
    if came.status_code == 302 and came["Location"].startswith("/sign-in/"):
        return "in"
    return "-" if came.status_code == 405 else str(came.status_code)


def told(name: str, expected: list[str], got: list[str]) -> str:
    """One line for each address that answers otherwise; `got` can be read into the table."""
    who = [f"{PEOPLE[n]} {g} for {e}" for n, (e, g) in enumerate(zip(expected, got, strict=True)) if e != g]
    return f"{name}: {', '.join(who)}   (got {' '.join(got)})"


def test_the_table_names_every_address_and_no_other() -> None:
    there = [route.name for route in routes()]
    assert len(there) == len(set(there))
    assert set(there) - set(EXPECTED) == set(), (
        "addresses without a line in the table of tests/desk/test_access.py"
    )
    assert set(EXPECTED) - set(there) == set(), "lines in the table without an address"


def test_every_address_of_the_desk_and_the_phone_says_who_may_see_it() -> None:
    """The guard of `coaching.access` stands on the view itself, and fits where the address is."""
    for path, name, view in routes():
        declared = getattr(view, "access", None)
        if path.startswith("desk/"):
            assert declared in ("coach", "head coach"), name
        elif path.startswith("me/"):
            assert declared == "athlete", name
        elif path.startswith("account/"):
            assert declared == "signed in", name


def test_get(all_of_them: Everybody) -> None:
    """What each gets to see; and nothing is changed by looking, but for what is named here."""
    clients = [all_of_them.client(who, raise_request_exception=False) for who in range(6)]
    before, wrong, wrote = fingerprint(), [], defaultdict(set)
    for route in in_the_table():
        address = all_of_them.address(route)
        with writing(wrote[route.name]):
            got = [answer(client, "get", address) for client in clients]
        if got != (expected := EXPECTED[route.name][0]):
            wrong.append(told(route.name, expected, got))
    assert wrong == []
    assert {name: tables for name, tables in wrote.items() if tables} == MAY_WRITE
    after = fingerprint()
    changed = {table for table in before if before[table] != after[table]}
    assert changed == {table for tables in MAY_WRITE.values() for table in tables}


def test_post(all_of_them: Everybody) -> None:
    """What each may do. Every answer is taken back, so that the next finds all as it was."""
    clients = [all_of_them.client(who, raise_request_exception=False) for who in range(6)]
    wrong, sent = [], {"sent": "1", "athlete": all_of_them.athlete.pk}
    for route in in_the_table():
        address, got = all_of_them.address(route), []
        for client in clients:
            with transaction.atomic():
                got.append(answer(client, "post", address, **sent))
                transaction.set_rollback(True)
        if got != (expected := EXPECTED[route.name][1]):
            wrong.append(told(route.name, expected, got))
    assert wrong == []


def test_every_post_needs_the_forms_token(all_of_them: Everybody) -> None:
    """Without it nobody gets anywhere, whoever is signed in; JSON as little as a form."""
    clients = [all_of_them.client(who, enforce_csrf_checks=True) for who in (STRANGER, ATHLETE, COACH, HEAD)]
    before, json = (
        fingerprint(),
        {"content_type": "application/json", "headers": {"Accept": "application/json"}},
    )
    for route in in_the_table():
        address = all_of_them.address(route)
        for client in clients:
            assert client.post(address, {"sent": "1"}).status_code == 403, route.name
            assert client.post(address, "{}", **json).status_code == 403, route.name
    assert fingerprint() == before
