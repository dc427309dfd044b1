"""Where the page is reached: one address of this machine, and nothing else; and its QR code."""

from __future__ import annotations

import io
import socket
from ipaddress import ip_address

import msgspec
import segno

from bot.errors import SettingsError

SETTING = "CROSSLAY_PAGE_LISTEN"
PORT = 8443
OFF = "off"
_ELSEWHERE = "192.0.2.1"
"""An address for examples (RFC 5737): nothing is sent, only the way to it is looked up."""


class Address(msgspec.Struct, frozen=True):
    """One address that is listened at."""

    host: str
    """An IP address of this machine, or a name of it."""
    port: int

    @property
    def url(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"https://{host}:{self.port}/"

    @property
    def hosts(self) -> frozenset[str]:
        """What browsers may call it by in their requests."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        names = [host, *(("localhost",) if self.is_here else ())]
        return frozenset(f"{name}:{self.port}" for name in names)

    @property
    def is_here(self) -> bool:
        """Reached from this machine only."""
        return self.host == "localhost" or (_is_ip(self.host) and ip_address(self.host).is_loopback)


def chosen(setting: str) -> Address | None:
    """The address of the setting ("address", "address:port", ":port"); None where the page is off.

    Without one: the address that this machine has in its network, else the machine itself alone.

    Raises:
        SettingsError: it is no address, or one that stands for every interface.
    """
    if setting.casefold() == OFF:
        return None
    host, port = _parts(setting)
    host = host or own_address()
    if _is_ip(host) and ip_address(host).is_unspecified:
        raise SettingsError(SETTING, f"{host} would open the page on every network: name one address of this machine.")
    return Address(host, port)


def _parts(setting: str) -> tuple[str, int]:
    if setting.startswith("["):
        host, _, port = setting[1:].partition("]")
        port = port.removeprefix(":")
    elif setting.count(":") > 1:
        host, port = setting, ""
    else:
        host, _, port = setting.partition(":")
    if port and not (port.isascii() and port.isdecimal() and 0 < int(port) < 65_536):
        raise SettingsError(SETTING, f"{port!r} is no port; write it like 192.168.4.1:{PORT}, or “off”.")
    return host.strip(), int(port) if port else PORT


def own_address() -> str:
    """The address of this machine in its network; 127.0.0.1 where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((_ELSEWHERE, 9))
            found: str = probe.getsockname()[0]
        except OSError:  # no way out of the rig's own network: its name leads to it
            found = _by_name()
    return found


def _by_name() -> str:
    try:
        found = [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    except OSError:
        found = []
    return next((one for one in found if not ip_address(one).is_loopback), "127.0.0.1")


def _is_ip(host: str) -> bool:
    try:
        ip_address(host)
    except ValueError:
        return False
    return True


def join_url(address: Address, code: str) -> str:
    """Where a phone joins; the code stands behind the #, which no browser sends to anybody."""
    return f"{address.url}#{code}"


def qr_text(url: str) -> str:
    """The QR code in half blocks, for a terminal."""
    out = io.StringIO()
    segno.make(url, error="m").terminal(out, compact=True, border=2)
    return out.getvalue()


def qr_svg(url: str) -> str:
    """The same as SVG of one path, black on white."""
    out = io.BytesIO()
    made = segno.make(url, error="m")
    made.save(out, kind="svg", xmldecl=False, border=2, dark="#000", light="#fff", omitsize=True)
    return out.getvalue().decode()
