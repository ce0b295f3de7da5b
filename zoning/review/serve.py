"""Listening: on this computer alone unless told otherwise."""

from __future__ import annotations

import errno
import ipaddress
import secrets
import socket
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

from flask import Flask
from waitress.server import create_server

from zoning.errors import OutputFailed, ZoningError
from zoning.review.rules import rule

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
_ANY = ("0.0.0.0", "::")  # noqa: S104 - named so that it can be told and guarded


class AddressRefused(ZoningError):
    """The address to listen on is none of this computer's, or is no address."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where the page listens, whether only this computer reaches it, and its names."""

    host: str
    port: int
    local: bool
    names: tuple[str, ...]

    def new_code(self) -> str:
        """Return a new access code; blank where only this computer reaches the page."""
        if self.local:
            return ""
        return "".join(secrets.choice(_LETTERS) for _ in range(int(rule("code_letters"))))


def listening(host: str, port: int | None) -> Address:
    """Return the address for what the user gave.

    Raises
    ------
    AddressRefused
        If `host` is neither ``localhost`` nor a numeric address.
    """
    port = int(rule("port")) if port is None else port
    given = "127.0.0.1" if host == "localhost" else host
    try:
        found = ipaddress.ip_address(given)
    except ValueError:
        raise AddressRefused(
            f"'{host}' is no numeric address. Give the address of this computer on your network, "
            "such as 192.168.1.20, or leave --listen out."
        ) from None
    own = ("127.0.0.1", "localhost")
    text = f"[{found}]" if found.version == 6 else str(found)
    names = ("*",) if given in _ANY else (*own, text)
    return Address(given, port, found.is_loopback, names)


def serve(app: Flask, address: Address) -> Any:
    """Return a server that listens; its ``run`` answers until it is stopped.

    Raises
    ------
    OutputFailed
        If the address or port cannot be used.
    """
    try:
        server = create_server(
            app,
            host=address.host,
            port=address.port,
            threads=int(rule("threads")),
            ident=None,
            connection_limit=int(rule("connections_most")),
            channel_timeout=int(rule("silent_s")),
            cleanup_interval=int(rule("look_round_s")),
            max_request_body_size=int(app.config["MAX_CONTENT_LENGTH"] * rule("body_most")),
            expose_tracebacks=False,
        )
    except (OSError, ValueError) as fault:
        raise OutputFailed(_trouble(fault, address)) from fault
    cut_off_the_slow(server)
    return server


def cut_off_the_slow(server: Any) -> None:
    """Let `server` close connections whose request drips in, which it keeps open by itself.

    A request has ``silent_s`` and a second for each ``least_bytes_s`` that have come; it is looked
    at whenever silent connections are looked for.
    """
    look, grace_s, rate = server.maintenance, rule("silent_s"), rule("least_bytes_s")
    begun: WeakKeyDictionary[Any, float] = WeakKeyDictionary()

    def maintenance(now: float) -> None:
        look(now)
        for channel in server.active_channels.values():
            coming = channel.request
            if coming is not None:
                come = coming.header_bytes_received + coming.body_bytes_received
                if now - begun.setdefault(coming, now) > grace_s + come / rate:
                    channel.will_close = True

    server.maintenance = maintenance


def _trouble(fault: OSError | ValueError, address: Address) -> str:
    code = getattr(fault, "errno", None)
    if code == errno.EADDRINUSE:
        return (
            f"Port {address.port} is in use, perhaps by another review page. "
            "Close that one or give another: --port 8766."
        )
    if code == errno.EADDRNOTAVAIL or isinstance(fault, socket.gaierror):
        return f"{address.host} is no address of this computer. Look it up in its network settings."
    return f"Listening on {address.host} port {address.port} is not possible: {fault}."
