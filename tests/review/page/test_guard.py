"""Who may ask the page what: names, origins, tokens, paths. Attacks as OWASP lists them (from memory)."""

import pytest
from page_client import Client, copied

from puttvision.review.page.guard import Access, host_name

CHANGE = {"do": "correct", "putt": 1, "field": "outcome", "value": "missed", "version": 0}


def outcome(site):
    return site.desk.stands(site.session).putts[0].outcome


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8742",
        "127.0.0.1.evil.example",
        "",
        "[::1",
        "localhost:80:80",
        "192.168.1.5",
    ],
)
def test_a_forged_host_is_refused(client, host):
    assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["localhost:8742", "127.0.0.1", "[::1]:8742", "LOCALHOST"])
def test_its_own_names_are_answered(client, host):
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    ("host", "name"),
    [("a.example:80", "a.example"), ("[::1]:80", "::1"), ("[::1]x", None), (":80", None), ("a:b", None)],
)
def test_names_are_read_from_hosts(host, name):
    assert host_name(host) == name


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1:8742"},
        {"origin": "http://127.0.0.1:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"x-puttvision": ""},
        {"x-puttvision": "guessed"},
    ],
)
def test_other_sites_cannot_write(client, site, headers):
    answer = client.post(f"/sessions/{site.session}/change", json=CHANGE, headers=headers)
    assert answer.status_code == 403
    assert outcome(site) == "holed"


def test_a_form_of_another_site_cannot_write(site):
    # a cross-site form brings cookies, but neither our header nor our origin
    bare = Client(site, headers={})
    answer = bare.post(
        f"/sessions/{site.session}/change", data={"do": "undo"}, headers={"origin": "http://a.example"}
    )
    assert answer.status_code == 403


def test_its_own_page_can_write(client, site):
    assert client.post(f"/sessions/{site.session}/change", json=CHANGE).status_code == 200
    assert outcome(site) == "missed"


def test_other_sites_cannot_embed_or_read(client, site):
    film = f"/sessions/{site.session}/film"
    embed = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors", "sec-fetch-dest": "video"}
    assert client.get(film, headers=embed).status_code == 403
    frame = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "iframe"}
    assert client.get("/", headers=frame).status_code == 403
    link = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    assert client.get("/", headers=link).status_code == 200
    head = client.get("/").headers
    assert "frame-ancestors 'none'" in head["content-security-policy"]
    assert "unsafe" not in head["content-security-policy"]
    assert head["cross-origin-resource-policy"] == "same-origin"
    assert "access-control-allow-origin" not in head


@pytest.mark.parametrize(
    "path", ["/", "/looks.css", "/static/api.js", "/nothing", "/sessions/1/state", "/sessions/1/film"]
)
def test_every_answer_carries_the_policy(client, path):
    head = client.get(path).headers
    assert head["content-security-policy"].startswith("default-src 'none'")
    assert head["x-content-type-options"] == "nosniff"


def test_no_page_has_inline_script_or_style(client, site):
    for path in ("/", f"/sessions/{site.session}", f"/clips/{site.clip.id}", "/nothing"):
        text = client.get(path, headers={"accept": "text/html"}).text.lower()
        assert "<style" not in text
        assert "style=" not in text
        assert " onclick" not in text
        assert text.count("<script") == text.count('<script type="module" src="/static/')


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2fjournal.db",
        "/static//etc/passwd", "/static/%00", "/clips/..%2f..%2fjournal.db/state", "/clips/../../journal.db",
        "/clips/%2e%2e/still.jpg", "/clips/..\\..\\x/state", "/sessions/..%2f1/film", "/sessions/1%00/film",
        "/sessions/-1/film", "/sessions/99999999999999999999/film", "/sessions/1/film/..%2f..%2fjournal.db",
    ],
)  # fmt: skip
def test_no_path_leads_out(client, path):
    answer = client.get(path)
    assert answer.status_code in (400, 404)
    assert b"SQLite" not in answer.content
    assert b"root:" not in answer.content


def test_folders_are_never_named(client, site):
    for path in (
        "/",
        f"/sessions/{site.session}",
        f"/clips/{site.clip.id}",
        f"/sessions/{site.session}/drawing",
    ):
        assert str(site.folder) not in client.get(path, headers={"accept": "text/html"}).text


# --- opened to a network -------------------------------------------------------------------------


@pytest.fixture
def open_site(tmp_path, prepared):
    with copied(prepared, tmp_path, Access(hosts=frozenset({"localhost"}), token="a1b2c3")) as site:
        yield site


def test_without_the_token_nothing_is_seen(open_site):
    visitor = Client(open_site, base="http://192.168.7.7:8742")
    for path in ("/", "/sessions/1", "/sessions/1/film", "/static/session.js", "/?token=wrong", "/?token="):
        answer = visitor.get(path)
        assert answer.status_code == 401
        assert "Ines" not in answer.text
    assert visitor.post("/sessions/1/change", json=CHANGE).status_code == 401
    assert outcome(open_site) == "holed"


def test_the_door_has_the_looks_of_the_page_and_says_what_is_wrong(open_site):
    visitor = Client(open_site, base="http://192.168.7.7:8742")
    assert "That is not the token" not in visitor.get("/").text
    assert "That is not the token" in visitor.get("/?token=wrong").text
    for path in ("/looks.css", "/static/page.css", "/favicon.ico"):
        assert visitor.get(path).status_code in (200, 204)
        assert visitor.post(path, json=CHANGE).status_code >= 400


def test_the_token_lets_in_once_and_leaves_the_address(open_site):
    visitor = Client(open_site, base="http://192.168.7.7:8742")
    answer = visitor.get("/sessions/1?token=a1b2c3")
    assert answer.status_code == 303
    assert answer.headers["location"] == "/sessions/1"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()
    inside = visitor.get("/sessions/1", headers={"cookie": cookie.split(";")[0]})
    assert inside.status_code == 200
    assert "Ines" in inside.text


def test_the_token_leads_nowhere_else(open_site):
    visitor = Client(open_site, base="http://192.168.7.7:8742")
    place = visitor.get("//evil.example/?token=a1b2c3").headers.get("location", "/")
    assert place.startswith("/")
    assert not place.startswith(("//", "/\\"))


def test_a_name_is_refused_even_with_the_token(open_site):
    # rebinding: the name of another site leads to this machine
    visitor = Client(open_site, base="http://evil.example:8742")
    assert visitor.get("/?token=a1b2c3").status_code == 421
