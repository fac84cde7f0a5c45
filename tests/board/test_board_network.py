"""The board on the local network: encrypted, paired by a code, and closed to everybody else.

127.0.0.2 stands for this machine's address there: it is one of its own, and not 127.0.0.1."""

import hashlib
import http.client
import json
import socket
import ssl
import subprocess
import sys
import time

import pytest
from seated import Chair

from sidecue.board import network
from sidecue.board.network import local_address
from sidecue.board.pairing import MOST_GUESSES
from sidecue.cli.main import run

pytestmark = pytest.mark.xdist_group("browser")
ADDRESS = "127.0.0.2"


@pytest.fixture(scope="module")
def chair():
    seated = Chair(lan=ADDRESS)
    yield seated
    seated.stop()


def trusting():
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context


def ask(chair, path, data=None, **headers):
    line = http.client.HTTPSConnection(ADDRESS, chair.board.port, timeout=5, context=trusting())
    try:
        names = {name.replace("_", "-"): value for name, value in headers.items()}
        body = None if data is None else json.dumps(data)
        if body is not None:
            names.setdefault("Content-Type", "application/json")
        line.request("GET" if body is None else "POST", path, body, names)
        answer = line.getresponse()
        return answer.status, answer.headers, answer.read().decode()
    finally:
        line.close()


def token(text):
    return text.split('data-token="')[1].split('"')[0]


def pair(chair, code):
    may_pair = token(ask(chair, "/pair")[2])
    return ask(chair, "/pair", {"code": code}, X_Board_Token=may_pair)


def code(chair):
    return chair.board._server._pairing.code


def wrong(chair):
    return f"{(int(code(chair)) + 1) % 10**6:06d}"


def test_who_is_not_paired_meets_the_pairing_page_alone(chair):
    for path in ("/", "/watch"):
        status, headers, text = ask(chair, path)
        assert (status, headers["Location"], text) == (303, "/pair", "")
    assert [ask(chair, path)[0] for path in ("/news", "/drawings/explorer.svg")] == [403, 403]
    acting = chair.board._server._token
    assert ask(chair, "/cue", {"cue": "pause"}, X_Board_Token=acting)[0] == 403
    assert ask(chair, "/talk", {"held": True}, X_Board_Token=acting)[0] == 403


def test_the_code_pairs_a_screen_which_then_acts(chair):
    status, headers, _ = pair(chair, f"{code(chair)[:3]} {code(chair)[3:]}")
    assert status == 200
    cookie = headers["Set-Cookie"]
    assert all(each in cookie for each in ("Secure", "HttpOnly", "SameSite=strict", "Path=/"))
    given = cookie.split(";")[0]
    page = ask(chair, "/", Cookie=given)
    assert page[0] == 200
    step, shown = chair.state.step, chair.shown
    own = {"cue": shown["phrases"][0]["cue"], "by": "touch", "scene": shown["scene"]}
    assert ask(chair, "/cue", own, Cookie=given, X_Board_Token=token(page[2]))[0] == 200
    chair.wait_for(lambda state: state.step != step)


def test_a_wrong_code_pairs_nobody_and_a_guesser_loses_the_code(chair):
    before = code(chair)
    for _ in range(MOST_GUESSES):
        assert pair(chair, wrong(chair))[0] == 403
    assert code(chair) != before
    assert pair(chair, before)[0] == 403


@pytest.mark.parametrize("cookie", ["", "__Host-sidecue-1=x", "=", "\x00", "a=b; a=b"])
def test_a_made_up_cookie_is_no_pairing(chair, cookie):
    cookie = cookie or f"{chair.board._server._pairing.cookie}=guess"
    assert ask(chair, "/news", Cookie=cookie)[0] in (400, 403)


def test_other_names_and_other_sites_are_refused_here_too(chair):
    own = f"{ADDRESS}:{chair.board.port}"
    for host in ("evil.example", ADDRESS, f"127.0.0.1:{chair.board.port}", "localhost"):
        assert ask(chair, "/pair", Host=host)[0] == 421
    for origin in ("https://evil.example", f"http://{own}", "null"):
        assert ask(chair, "/pair", Origin=origin)[0] == 403
    assert ask(chair, "/pair", Origin=f"https://{own}")[0] == 200
    assert ask(chair, "/pair", {"code": code(chair)})[0] == 403  # without the page's permission


def test_the_policy_holds_on_every_answer(chair):
    for path in ("/", "/pair", "/parts/pair.js", "/news"):
        assert "default-src 'none'" in ask(chair, path)[1]["Content-Security-Policy"]


def test_the_certificate_is_the_one_whose_fingerprint_is_told(chair):
    with (
        socket.create_connection((ADDRESS, chair.board.port), 5) as line,
        trusting().wrap_socket(line) as secured,
    ):
        shown = hashlib.sha256(secured.getpeercert(binary_form=True)).hexdigest()
        assert secured.version() in ("TLSv1.2", "TLSv1.3")
    assert chair.board.fingerprint.replace(":", "").lower() == shown


def test_nothing_is_said_in_the_clear(chair):
    with socket.create_connection((ADDRESS, chair.board.port), 5) as line:
        line.sendall(f"GET / HTTP/1.1\r\nHost: {ADDRESS}\r\n\r\n".encode())
        line.settimeout(5)
        try:
            answer = line.recv(1000)
        except ConnectionResetError:
            answer = b""
    assert b"HTTP" not in answer


def test_a_crowd_on_the_network_leaves_the_chairs_own_page_alone(chair, monkeypatch):
    monkeypatch.setattr(network, "HANDSHAKE_WITHIN", 0.5)
    crowd = []
    try:
        for _ in range(300):
            line = socket.socket()
            line.connect((ADDRESS, chair.board.port))
            crowd.append(line)
        own = http.client.HTTPConnection("127.0.0.1", chair.board.port, timeout=5)
        own.request("GET", "/watch")
        assert own.getresponse().status == 200
        own.close()
    finally:
        for line in crowd:
            line.close()
    end = time.monotonic() + 5
    while True:  # and then the way in is free again
        try:
            assert ask(chair, "/pair")[0] == 200
        except (OSError, http.client.HTTPException):
            assert time.monotonic() < end
        else:
            break


def test_a_screen_pairs_in_a_browser(chair, screen):
    page = screen(f"https://{ADDRESS}:{chair.board.port}/", ignore_https_errors=True, live=False)
    page.fill("input[name=code]", wrong(chair))
    page.get_by_role("button", name="Pair").click()
    page.wait_for_selector("text=not the code")
    page.fill("input[name=code]", code(chair))
    page.keyboard.press("Enter")
    page.wait_for_selector("body[data-link=live]")
    assert page.inner_text("#say") == chair.shown["step"]["say"]


@pytest.mark.parametrize("address", ["8.8.8.8", "0.0.0.0", "224.0.0.1", "chair", "", "::1"])
def test_only_an_address_of_a_local_network_will_do(address):
    with pytest.raises(ValueError, match=r"^\S+ is (no|not on a local) .*: give .*$"):
        local_address(address)


def test_an_address_of_another_machine_is_one_clear_line(capsys, tmp_path):
    code = run(["run", "--board", "--lan", "10.255.255.254", "--engine", "text", "--mute",
                "--port", "0", "--out", str(tmp_path)])  # fmt: skip
    err = capsys.readouterr().err
    assert code == 2
    assert "10.255.255.254" in err
    assert len(err.splitlines()) == 1


def test_a_board_for_this_machine_alone_loads_nothing_that_makes_certificates():
    code = "import sidecue.cli.run_command, sys; sys.exit('cryptography' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
