"""A machine on a shop's network is a machine among strangers: who is let in, and what is refused."""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
from datetime import timedelta
from urllib.request import HTTPCookieProcessor, Request, build_opener

import pytest

from shopquote.errors import InputError
from shopquote.page import server
from shopquote.page.guard import COOKIE, MOST_TRIES, Codes, Tries
from tests.page.conftest import HOME, Browser


def test_nobody_gets_a_page_without_a_cookie(desk_app):
    for rule in desk_app.url_map.iter_rules():
        if rule.endpoint in ("static", "guard.enter", "guard.code") or "GET" not in rule.methods:
            continue
        path = re.sub(r"<[^>]*>", "1", rule.rule)
        answer = Browser(desk_app).get(path, headers={"Accept": "text/html"})
        assert answer.status_code == 302 and "/code" in answer.location, rule.rule
        assert Browser(desk_app).get(path, headers={"Accept": "application/json"}).status_code == 401


def test_the_one_time_word_counts_once(desk_app):
    word = desk_app.extensions["guard"].codes.word
    first = Browser(desk_app)
    assert first.get(f"/in?word={word}").status_code == 302
    assert first.get("/").status_code == 200
    assert Browser(desk_app).get(f"/in?word={word}").status_code == 403


def test_the_cookie_is_for_our_pages_alone(desk_app):
    word = desk_app.extensions["guard"].codes.word
    set_cookie = Browser(desk_app).get(f"/in?word={word}").headers["Set-Cookie"]
    assert set_cookie.startswith(COOKIE)
    assert "HttpOnly" in set_cookie and "SameSite=Strict" in set_cookie and "Path=/" in set_cookie


def test_the_cookie_is_secure_behind_https(desk_app):
    word = desk_app.extensions["guard"].codes.word
    answer = desk_app.test_client().get(f"/in?word={word}", base_url=HOME.replace("http:", "https:"))
    assert "Secure" in answer.headers["Set-Cookie"]


def test_the_database_holds_no_word_of_a_cookie(office, shop):
    word = office.client.get_cookie(COOKIE, domain="127.0.0.1").value
    with shop.reading() as session:
        held = session.connection().exec_driver_sql("SELECT * FROM devices").fetchall()
    assert held and word not in str(held)


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "evil.example:8765", "127.0.0.1:8765.evil.example"]
)
def test_a_name_that_is_not_ours_is_refused(office, host):
    answer = office.client.get("/", base_url=HOME, headers={"Host": host})
    assert answer.status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Origin": HOME, "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://127.0.0.1:9999"},
    ],
)
def test_a_form_of_another_page_is_refused(office, headers):
    assert office.post("/devices", {"role": "office"}, headers=headers).status_code == 403


def test_a_form_without_origin_or_referrer_is_refused(office):
    answer = office.client.post("/devices", base_url=HOME, data={"token": office.token})
    assert answer.status_code == 403


def test_a_form_without_its_token_is_refused_everywhere(desk_app, office):
    for rule in desk_app.url_map.iter_rules():
        if "POST" not in rule.methods or rule.endpoint == "guard.code":
            continue
        path = re.sub(r"<[^>]*>", "1", rule.rule)
        for token in ("", "0" * 64):
            answer = office.post(path, {"token": token}, headers={"X-Form-Token": token})
            assert answer.status_code == 403, rule.rule


def test_a_token_of_another_device_is_refused(office, floor):
    assert office.token != floor.token
    office.token = floor.token
    assert office.post("/devices", {"role": "floor"}).status_code == 403


def test_the_floor_gets_no_page_of_the_office(desk_app, floor):
    for rule in desk_app.url_map.iter_rules():
        if rule.endpoint.startswith("floor.") or rule.endpoint in ("static", "guard.enter", "guard.code"):
            continue
        path = re.sub(r"<[^>]*>", "1", rule.rule)
        answer = floor.get(path) if "GET" in rule.methods else floor.post(path)
        # The bare address is what a person types: it leads the floor to its own first page.
        if rule.endpoint == "office.start":
            assert answer.location == "/f/"
        else:
            assert answer.status_code == 403, rule.rule


def test_nothing_stands_in_line_and_nothing_comes_from_elsewhere(office):
    answer = office.get("/")
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy and "http" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "Server" not in answer.headers or "Werkzeug" not in answer.headers["Server"]


def test_no_template_has_a_script_a_style_or_a_handler_in_line():
    folder = server.__file__.rsplit("/", 1)[0]
    from pathlib import Path

    wrong = []
    for path in Path(folder, "templates").rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        if re.search(
            r"\sstyle=|\son[a-z]+=|<style|javascript:|<script(?![^>]*(src=|application/json))", text
        ):
            wrong.append(path.name)
        if re.search(r"https?://", text) or "|safe" in text:
            wrong.append(path.name)
    assert not wrong


def test_folders_are_not_listed_and_files_beside_are_not_served(office):
    for path in (
        "/static/",
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/templates/base.html",
        "/shop.db",
    ):
        assert office.get(path).status_code in (404, 308), path


def test_a_code_lets_in_once_and_as_what_it_says(desk_app, office):
    code = re.search(r"big\">(\d{3}) (\d{3})<", office.post("/devices", {"role": "floor"}).text)
    assert code
    phone = Browser(desk_app)
    assert phone.post("/code", {"code": f" {code[1]} {code[2]} ", "name": "phone"}).location == "/f/"
    assert phone.get("/f/").status_code == 200
    assert Browser(desk_app).post("/code", {"code": code[1] + code[2]}).status_code == 403
    assert "phone" in office.get("/devices").text


def test_a_device_that_is_removed_is_out(desk_app, office, floor):
    page = office.get("/devices").text
    number = re.search(r'value="(\d+)" aria-label="Remove floor test"', page)
    assert number
    assert office.post("/devices", {"do": "throw-out", "device": number[1]}).status_code == 303
    assert floor.get("/f/", headers={"Accept": "application/json"}).status_code == 401


def test_wrong_codes_are_limited(desk_app):
    browser = Browser(desk_app)
    codes = [browser.post("/code", {"code": "000000x"}).status_code for _ in range(MOST_TRIES + 2)]
    assert codes == [403] * MOST_TRIES + [429] * 2
    good = desk_app.extensions["guard"].codes.new_code("floor")
    assert browser.post("/code", {"code": good}).status_code == 429


def test_tries_of_all_addresses_together_are_limited_and_forgotten():
    time = [0.0]
    tries = Tries(clock=lambda: time[0])
    for number in range(30):
        assert not tries.too_many(f"10.0.0.{number}")
        tries.note(f"10.0.0.{number}")
    assert tries.too_many("10.0.9.9")
    time[0] = 301
    assert not tries.too_many("10.0.0.1")


def test_a_code_ends_after_ten_minutes_and_a_new_one_takes_its_place():
    time = [0.0]
    codes = Codes(clock=lambda: time[0])
    first, second = codes.new_code("floor"), codes.new_code("floor")
    assert codes.take_code(first) is None or first == second
    third = codes.new_code("office")
    time[0] = 601
    assert codes.take_code(third) is None


def test_a_session_ends_for_idleness_and_in_the_end(desk_app, office, clock):
    for _ in range(13):
        clock.time += timedelta(hours=11)
        assert office.get("/").status_code == 200
    clock.time += timedelta(hours=13)
    assert office.get("/", headers={"Accept": "application/json"}).status_code == 401
    again = Browser(desk_app).let_in("office")
    for _ in range(15):
        clock.time += timedelta(hours=11)
        last = again.get("/", headers={"Accept": "application/json"}).status_code
    assert last == 200
    clock.time += timedelta(hours=6)
    assert again.get("/", headers={"Accept": "application/json"}).status_code == 401


def test_a_page_is_not_led_to_another_site(desk_app):
    for to in ("//evil.example", "https://evil.example", "/\\evil.example", "\\\\evil.example"):
        code = desk_app.extensions["guard"].codes.new_code("office")
        assert Browser(desk_app).post("/code", {"code": code, "to": to}).location == "/"


def test_too_large_a_form_is_refused(office):
    answer = office.post(
        "/devices", b"role=" + b"0" * 13_000_000, content_type="application/x-www-form-urlencoded"
    )
    assert answer.status_code == 413 and "12 MB" in answer.text


def test_what_was_typed_is_text(desk_app, office):
    code = desk_app.extensions["guard"].codes.new_code("floor")
    Browser(desk_app).post("/code", {"code": code, "name": "<script>alert(1)</script>"})
    assert "<script>alert" not in office.get("/devices").text
    assert "<script>alert" not in office.get("/?find=<script>alert(1)</script>").text


def test_a_fault_of_the_program_shows_no_trace(desk_app, office, monkeypatch, caplog):
    def broken(*_args, **_more):
        raise RuntimeError("secret of the machine")

    monkeypatch.setattr("shopquote.page.office.newest_jobs", broken)
    answer = office.get("/")
    assert answer.status_code == 500
    assert "secret" not in answer.text and "Traceback" not in answer.text
    assert "secret of the machine" in caplog.text


def test_it_listens_on_this_machine_alone_unless_told(shop, monkeypatch, capsys):
    heard = []

    def listen(host: str, port: int) -> socket.socket:
        heard.append(host)
        return real(host, port)

    real = server._listen
    monkeypatch.setattr(server, "_listen", listen)
    server.run(str(shop.url.database), port=0, lan=False, proxy_name=None, browser=False, try_only=True)
    server.run(str(shop.url.database), port=0, lan=True, proxy_name=None, browser=False, try_only=True)
    assert heard == ["127.0.0.1", "0.0.0.0"]
    printed = capsys.readouterr().out
    assert printed.count("The first page answers.") == 2


def test_the_server_answers_over_a_real_socket_and_refuses_other_names(shop, monkeypatch):
    asked = threading.Event()
    seen = {}

    def ask(address: str) -> None:
        opener = build_opener(HTTPCookieProcessor())
        with opener.open(Request(address, headers={"Accept": "text/html"}), timeout=30) as answer:
            seen["status"], seen["headers"] = answer.status, dict(answer.headers)
        asked.set()

    monkeypatch.setattr(server, "_ask", ask)
    server.run(str(shop.url.database), port=0, lan=False, proxy_name=None, browser=False, try_only=True)
    assert asked.is_set() and seen["status"] == 200
    assert "script-src 'self'" in seen["headers"]["Content-Security-Policy"]
    assert "Server" not in seen["headers"]


@pytest.mark.skipif(os.name == "nt", reason="Windows sends Ctrl and C to all of a console at once")
def test_ctrl_and_c_stop_the_page_and_it_says_so(shop):
    words = [sys.executable, "-u", "-m", "shopquote", "serve", "--port", "0", "--no-browser"]
    with subprocess.Popen(
        [*words, "--db", str(shop.url.database)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as server_process:
        assert server_process.stdout is not None
        (address,) = re.findall(r"http://\S+", server_process.stdout.readline())
        with build_opener(HTTPCookieProcessor()).open(address, timeout=30) as answer:
            assert answer.status == 200
        server_process.send_signal(signal.SIGINT)
        told = server_process.stdout.read()
    assert (server_process.returncode, told.splitlines()[-1]) == (0, "Stopped.")


def test_names_that_a_browser_may_call_us():
    assert server.hosts_of(8765, (), None) == {"127.0.0.1:8765", "localhost:8765"}
    hosts = server.hosts_of(8765, ("192.168.1.20",), "shop.example")
    assert {"192.168.1.20:8765", "shop.example"} <= hosts
    assert "192.168.1.20" not in hosts


def test_the_lettering_of_the_drawings_is_ours_and_nothing_else_is_given_out(office):
    for weight in ("Medium", "Bold"):
        font = office.get(f"/f/font/{weight}")
        assert font.status_code == 200 and font.data[:4] == b"\x00\x01\x00\x00"
    assert office.get("/f/font/Thin").status_code == 404
    assert office.get("/f/font/..%2Fpage.css").status_code == 404


@pytest.mark.parametrize("letters", ["\x1b[31m", "\u202e", "\x00", "\r"])
def test_control_characters_are_refused_wherever_they_are_sent(office, letters):
    assert office.post("/code", {"code": "1", "name": f"a{letters}b"}).status_code == 400
    assert office.get("/", query_string={"q": f"a{letters}b"}).status_code == 400
    assert office.post("/code", json={"name": [{"deep": f"a{letters}b"}]}).status_code == 400
    assert office.get("/", query_string={"q": "two\r\nlines \t Größe"}).status_code == 200


def test_the_page_takes_its_port_again_right_after_it_was_stopped():
    listener = server._listen("127.0.0.1", 0)
    port = listener.getsockname()[1]
    with socket.create_connection(("127.0.0.1", port)) as asks:
        answers, _ = listener.accept()
        with pytest.raises(InputError, match=f"Port {port} cannot be used"):
            server._listen("127.0.0.1", port)
        answers.close()  # who hangs up first keeps the connection in the system's books
        assert asks.recv(1) == b""
    listener.close()
    server._listen("127.0.0.1", port).close()
