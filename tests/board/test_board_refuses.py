"""What the board turns away. Plain sockets, so that nothing a browser would refuse is refused
before it is sent."""

import contextlib
import http.client
import json
import socket

import pytest
from browser import until
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from seated import PLAN, Chair

from sidecue.board import connections
from sidecue.board.messages import BadMessage, read_ask

pytestmark = pytest.mark.xdist_group("browser")


@pytest.fixture(scope="module")
def chair():
    seated = Chair()
    yield seated
    seated.stop()


class Answer:
    def __init__(self, raw: http.client.HTTPResponse) -> None:
        self.status, self.headers = raw.status, raw.headers
        self.text = raw.read().decode()


def ask(chair, path="/", method="GET", body=None, **headers):
    line = http.client.HTTPConnection("127.0.0.1", chair.board._server.port, timeout=10)
    try:
        names = {name.replace("_", "-"): value for name, value in headers.items()}
        line.putrequest(method, path, skip_host="Host" in names, skip_accept_encoding=True)
        if body is not None:
            names.setdefault("Content-Length", str(len(body)))
        for name, value in names.items():
            line.putheader(name, value)
        line.endheaders(body)
        return Answer(line.getresponse())
    finally:
        line.close()


def token(chair):
    return ask(chair).text.split('data-token="')[1].split('"')[0]


def cue(chair, data, **headers):
    body = data if isinstance(data, bytes) else json.dumps(data).encode()
    given = {"Content_Type": "application/json", "X_Board_Token": token(chair), **headers}
    return ask(chair, "/cue", "POST", body, **given)


def own_cue(chair):
    page = chair.shown
    return {"cue": page["phrases"][0]["cue"], "by": "key", "scene": page["scene"]}


def unchanged(chair, before):
    chair.settle()
    return chair.state.step == before.step and chair.state.done == before.done


def test_its_own_page_is_served_and_may_act(chair):
    before = chair.state.step
    assert cue(chair, own_cue(chair)).status == 200
    chair.wait_for(lambda state: state.step != before)


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil:80"])
def test_a_name_that_was_rebound_to_this_machine_is_refused(chair, host):
    assert ask(chair, Host=host).status == 421
    assert ask(chair, "/news", Host=host).status == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", "file://"])
def test_a_page_of_another_site_is_refused(chair, origin):
    before = chair.state
    assert ask(chair, "/news", Origin=origin).status == 403
    assert cue(chair, own_cue(chair), Origin=origin).status == 403
    assert unchanged(chair, before)


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_a_browser_calls_cross_site_is_refused(chair, site):
    assert ask(chair, Sec_Fetch_Site=site).status == 403


def test_a_press_without_the_pages_permission_is_refused(chair):
    before = chair.state
    for guess in ("", "guess"):
        assert cue(chair, own_cue(chair), X_Board_Token=guess).status == 403
    assert unchanged(chair, before)


def test_a_form_of_another_site_cannot_press(chair):
    """A form cannot set a header nor send JSON; each alone is enough to refuse it."""
    before = chair.state
    form = "application/x-www-form-urlencoded"
    assert cue(chair, own_cue(chair), Content_Type=form).status == 415
    assert cue(chair, own_cue(chair), Content_Type="text/plain").status == 415
    assert unchanged(chair, before)


def test_the_watching_page_carries_no_permission(chair):
    watching = ask(chair, "/watch").text
    assert 'data-token=""' in watching
    assert token(chair) not in watching


def test_a_socket_cannot_be_opened_across_sites_or_at_all(chair):
    upgrade = {
        "Connection": "Upgrade", "Upgrade": "websocket", "Sec_WebSocket_Version": "13",
        "Sec_WebSocket_Key": "dGhlIHNhbXBsZSBub25jZQ==",
    }  # fmt: skip
    assert ask(chair, "/news2", **upgrade).status == 404
    assert ask(chair, "/", Origin="http://evil.example", **upgrade).status == 403


@pytest.mark.parametrize(
    "path",
    [
        "/parts/../page.py", "/parts/..%2fpage.py", "/parts/%2e%2e/page.py", "/parts/..\\page.py",
        "/parts//etc/passwd", "/parts/board.html", "/parts/page.py", "/../../etc/passwd",
        "/parts/board.css%00.js", "/nothing",
    ],
)  # fmt: skip
def test_no_path_leads_out_of_the_page(chair, path):
    answer = ask(chair, path)
    assert answer.status == 404
    assert "import" not in answer.text
    assert "root:" not in answer.text


@pytest.mark.parametrize("name", ["..%2f..%2frules", "%2e%2e", "A", "x" * 300, "%00"])
def test_a_drawing_that_is_none_is_the_neutral_shape(chair, name):
    answer = ask(chair, f"/drawings/{name}.svg")
    assert answer.status in (200, 404)
    assert answer.status == 404 or answer.text.startswith("<svg")


def test_nothing_but_reading_and_pressing_is_answered(chair):
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"):
        assert ask(chair, "/cue", method).status == 405


def test_an_oversized_message_is_refused(chair):
    assert cue(chair, b'{"cue": "' + b"a" * 5000 + b'"}').status == 413


def test_an_oversized_heading_is_refused(chair):
    assert ask(chair, X_Long="a" * 40_000).status == 431


@pytest.mark.parametrize(
    "body",
    [
        b"", b"{", b"[]", b"null", b'"a"', b"\xff\xfe", b"[" * 4000, b"{}",
        b'{"cue": 1, "by": "key", "scene": ""}', b'{"cue": "undo", "by": "ghost", "scene": ""}',
        b'{"cue": "../x", "by": "key", "scene": ""}',
        b'{"cue": "undo", "by": "key", "scene": "", "more": 1}',
    ],
)  # fmt: skip
def test_a_malformed_message_gets_one_line_and_does_nothing(chair, body):
    before = chair.state
    answer = cue(chair, body)
    assert answer.status == 400
    assert answer.text
    assert "\n" not in answer.text
    assert unchanged(chair, before)


@given(st.binary(max_size=300))
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_no_bytes_at_all_are_more_than_a_bad_message(body):
    with pytest.raises(BadMessage):
        read_ask(body)


def test_a_press_on_a_page_that_has_changed_is_refused(chair):
    stale = {**own_cue(chair), "scene": "0" * 16}
    before = chair.state
    assert cue(chair, stale).status == 409
    assert unchanged(chair, before)


def test_a_cue_that_is_not_on_the_page_is_refused(chair):
    offered = {each["cue"] for each in chair.shown["phrases"]}
    absent = next(step.done.id for step in PLAN.steps if step.done.id not in offered)
    assert cue(chair, {**own_cue(chair), "cue": absent}).status == 409


def test_a_word_that_stops_counts_on_a_stale_page_too(chair):
    alarm = {"cue": PLAN.emergencies[0].cue.id, "by": "key", "scene": "stale"}
    assert cue(chair, alarm).status == 200
    chair.wait_for(lambda state: state.emergency is not None)


def test_the_page_forbids_everything_that_is_not_its_own(chair):
    for path in ("/", "/watch", "/parts/app.js", "/drawings/explorer.svg", "/nothing"):
        headers = ask(chair, path).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert "Access-Control-Allow-Origin" not in headers


def test_a_thousand_connections_do_not_stop_a_screen_that_is_open(chair, monkeypatch):
    monkeypatch.setattr(connections, "FIRST_REQUEST_WITHIN", 1.0)
    port = chair.board._server.port
    screen = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    screen.request("GET", "/watch")
    assert screen.getresponse().read()
    crowd = []
    try:
        for _ in range(1000):
            line = socket.socket()
            line.settimeout(2)
            line.connect(("127.0.0.1", port))
            crowd.append(line)
        screen.request("GET", "/watch")
        assert screen.getresponse().read()
        assert len(chair.board._server._server.server_state.connections) <= (
            connections.MOST_CONNECTIONS
        )
    finally:
        for line in crowd:
            line.close()
        screen.close()
    until(lambda: len(chair.board._server._server.server_state.connections) < 9, "room")
    assert ask(chair).status == 200


def test_a_connection_that_says_nothing_is_closed(chair, monkeypatch):
    monkeypatch.setattr(connections, "FIRST_REQUEST_WITHIN", 0.2)
    with socket.create_connection(("127.0.0.1", chair.board._server.port), 5) as line:
        line.settimeout(5)
        with contextlib.suppress(ConnectionResetError):
            assert line.recv(1) == b""


def test_only_this_machine_can_reach_it(chair):
    assert chair.board._server._socket.getsockname()[0] == "127.0.0.1"


def test_too_many_screens_are_told_so(chair):
    lines = []
    try:
        answers = []
        for _ in range(14):
            line = http.client.HTTPConnection("127.0.0.1", chair.board._server.port, timeout=5)
            line.request("GET", "/news")
            answer = line.getresponse()
            answers.append(answer.status)
            if answer.status == 200:
                answer.fp.readline()
            lines.append(line)
        assert answers[:12] == [200] * 12
        assert 503 in answers[12:]
    finally:
        for line in lines:
            line.close()
