"""Where the page listens, and what is said when it cannot."""

from __future__ import annotations

import socket
import threading
import urllib.error
import urllib.request
from types import SimpleNamespace

import pytest

from zoning.errors import OutputFailed
from zoning.review import Desk, listening, make_app, serve
from zoning.review.rules import rule
from zoning.review.serve import AddressRefused


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1"])
def test_this_computer_alone_needs_no_code(host: str) -> None:
    address = listening(host, 0)
    assert address.local
    assert address.new_code() == ""


@pytest.mark.parametrize("host", ["192.168.1.20", "0.0.0.0", "::"])  # noqa: S104
def test_others_need_a_code_made_anew(host: str) -> None:
    address = listening(host, 0)
    codes = {address.new_code() for _ in range(20)}
    assert len(codes) == 20
    assert {len(code) for code in codes} == {8}


@pytest.mark.parametrize("host", ["farm.example", "", "192.168.1", "1.2.3.4/24"])
def test_only_numeric_addresses_are_taken(host: str) -> None:
    with pytest.raises(AddressRefused, match="numeric address"):
        listening(host, 0)


def test_a_port_in_use_is_told(desk: Desk) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        address = listening("127.0.0.1", taken.getsockname()[1])
        with pytest.raises(OutputFailed, match="in use"):
            serve(make_app(desk), address)


def test_an_address_of_another_computer_is_told(desk: Desk) -> None:
    with pytest.raises(OutputFailed, match="no address of this computer"):
        serve(make_app(desk, ("192.0.2.7",)), listening("192.0.2.7", 0))


def test_it_answers_on_its_address_only_and_names_no_program(desk: Desk) -> None:
    server = serve(make_app(desk), listening("127.0.0.1", 0))
    threading.Thread(target=server.run, daemon=True).start()
    url = f"http://127.0.0.1:{server.effective_port}/"
    with urllib.request.urlopen(url, timeout=10) as answer:
        assert b"Test Piece" in answer.read()
        assert answer.headers["Server"] is None
    request = urllib.request.Request(url, headers={"Host": "evil.example"})
    with pytest.raises(urllib.error.HTTPError, match="400"):
        urllib.request.urlopen(request, timeout=10)  # noqa: S310
    server.close()


class Coming:
    """A request on its way in, as the server keeps it."""

    def __init__(self, head: int, body: int) -> None:
        self.header_bytes_received, self.body_bytes_received = head, body


def test_a_request_that_drips_in_is_cut_off_and_a_large_one_is_not(desk: Desk) -> None:
    server = serve(make_app(desk), listening("127.0.0.1", 0))
    grace_s, rate = rule("silent_s"), rule("least_bytes_s")

    def channel(coming: Coming | None) -> SimpleNamespace:
        return SimpleNamespace(request=coming, requests=[], last_activity=1e9, will_close=False)

    drip, photo, idle = channel(Coming(30, 0)), channel(Coming(600, int(60 * rate))), channel(None)
    server.active_channels = dict(enumerate((drip, photo, idle)))
    start = 1e9 - 100.0
    server.maintenance(start)
    server.maintenance(start + grace_s - 1)
    assert not drip.will_close
    server.maintenance(start + grace_s + 1)
    assert drip.will_close
    assert not photo.will_close
    server.maintenance(start + grace_s + 70)
    assert photo.will_close
    assert not idle.will_close
    server.active_channels = {}
    server.close()


def test_a_connection_that_drips_is_closed(desk: Desk) -> None:
    server = serve(make_app(desk), listening("127.0.0.1", 0))
    threading.Thread(target=server.run, daemon=True).start()
    with socket.create_connection(("127.0.0.1", server.effective_port), timeout=30) as link:
        link.sendall(b"GET / HTTP/1.1\r\nX: a")
        while not server.active_channels:
            pass
        (held,) = server.active_channels.values()
        while held.request is None:
            pass
        now = held.last_activity
        server.maintenance(now)
        held.last_activity = now + 1000  # it has only just sent another letter
        server.maintenance(now + rule("silent_s") + 1)
        assert link.recv(10) == b""
    server.close()
