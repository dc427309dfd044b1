"""Where the page is served: one address, named plainly, and what browsers may call it by."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from bot.errors import SettingsError
from bot.rooms.page.address import Address, chosen, join_url, qr_svg, qr_text
from bot.rooms.page.certificate import certificate


@pytest.mark.parametrize(
    ("setting", "address"),
    [
        ("192.168.4.1", Address("192.168.4.1", 8443)),
        ("192.168.4.1:9000", Address("192.168.4.1", 9000)),
        ("engine12.local:9000", Address("engine12.local", 9000)),
        ("[fd00::1]:9000", Address("fd00::1", 9000)),
        ("fd00::1", Address("fd00::1", 8443)),
        ("off", None),
        ("OFF", None),
    ],
)
def test_the_setting_names_one_address(setting: str, address: Address | None) -> None:
    assert chosen(setting) == address


@pytest.mark.parametrize("setting", ["0.0.0.0", "0.0.0.0:8443", "[::]:8443", "192.168.4.1:http", "192.168.4.1:99999"])
def test_every_network_at_once_and_nonsense_are_refused(setting: str) -> None:
    with pytest.raises(SettingsError, match="CROSSLAY_PAGE_LISTEN"):
        chosen(setting)


def test_the_hosts_of_an_address_are_its_own() -> None:
    assert Address("192.168.4.1", 8443).hosts == {"192.168.4.1:8443"}
    assert Address("127.0.0.1", 8443).hosts == {"127.0.0.1:8443", "localhost:8443"}
    assert Address("fd00::1", 8443).url == "https://[fd00::1]:8443/"


def test_the_code_stands_where_no_browser_sends_it_and_the_qr_code_holds_it() -> None:
    url = join_url(Address("192.168.4.1", 8443), "12345678")
    assert url == "https://192.168.4.1:8443/#12345678"
    assert qr_svg(url).startswith("<svg xmlns=")
    assert "style=" not in qr_svg(url)
    assert qr_svg(url) != qr_svg(url[:-1] + "9")
    assert len(qr_text(url).splitlines()) > 10


@pytest.mark.parametrize("host", ["192.168.4.1", "engine12.local", "203.0.113.9", "fd00::1"])
def test_a_phone_that_trusts_the_authority_trusts_the_page(tmp_path: Path, host: str) -> None:
    made = certificate(tmp_path, host)
    assert made == certificate(tmp_path, host)  # kept
    assert {path.stat().st_mode & 0o077 for path in tmp_path.iterdir()} == {0}
    _verify(made.authority, made.chain, host)
    with pytest.raises(VerificationError):
        _verify(made.authority, made.chain, "192.168.4.2")


def test_another_address_needs_no_new_trust_within_local_networks(tmp_path: Path) -> None:
    made = certificate(tmp_path, "192.168.4.1")
    other = certificate(tmp_path, "10.1.2.3")
    assert other.fingerprint == made.fingerprint
    _verify(other.authority, other.chain, "10.1.2.3")


def test_the_authority_vouches_for_no_public_name(tmp_path: Path) -> None:
    made = certificate(tmp_path, "192.168.4.1")
    bounds = x509.load_der_x509_certificate(made.authority).extensions.get_extension_for_class(x509.NameConstraints)
    names = [one.value for one in bounds.value.permitted_subtrees or () if isinstance(one, x509.DNSName)]
    assert bounds.critical
    assert not [name for name in names if name.endswith((".com", ".org", ".net"))]


def test_a_certificate_is_renewed_before_it_is_over(tmp_path: Path) -> None:
    now = datetime.now(UTC)
    certificate(tmp_path, "192.168.4.1", now - timedelta(days=800))
    made = certificate(tmp_path, "192.168.4.1", now)
    kept = x509.load_pem_x509_certificates(made.chain.read_bytes())[0]
    assert kept.not_valid_after_utc - now > timedelta(days=700)


def _verify(authority: bytes, chain: Path, host: str) -> None:
    from ipaddress import ip_address

    trusted = x509.load_der_x509_certificate(authority)
    leaf = x509.load_pem_x509_certificates(chain.read_bytes())[0]
    subject: x509.DNSName | x509.IPAddress
    try:
        subject = x509.IPAddress(ip_address(host))
    except ValueError:
        subject = x509.DNSName(host)
    PolicyBuilder().store(Store([trusted])).build_server_verifier(subject).verify(leaf, [])
