"""The page's certificate: an authority of this machine's own, kept, and a certificate of it for the page's address.

Browsers give the microphone to secure pages alone. A phone that trusts the authority trusts the page, at whatever
address the rig's network gives it later; the authority may vouch for addresses of local networks and nothing else.
"""

from __future__ import annotations

import datetime as dt
import socket
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from pathlib import Path

import msgspec
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from bot.errors import FileProblem
from bot.store import private

AUTHORITY_DAYS = 3650
DAYS = 820
"""Some phones take no certificate that holds longer than 825 days."""
RENEW_BEFORE = dt.timedelta(days=30)
LOCAL = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10",
         "::1/128")  # fmt: skip
"""Networks that lead nowhere else (RFC 1918, 3927, 4193, 4291)."""
LOCAL_NAMES = ("localhost", "local", "lan", "home.arpa", "internal")
"""Names that no public server has (RFC 6761, 6762, 8375)."""


class Certificate(msgspec.Struct, frozen=True):
    """Files for the server, and what people compare."""

    chain: Path
    key: Path
    authority: bytes
    """The authority's certificate (DER), as phones install it."""
    fingerprint: str
    """Its SHA-256, in pairs."""


def certificate(folder: Path, host: str, now: dt.datetime | None = None) -> Certificate:
    """The certificate for an address; made, and made anew, where what is kept doesn't fit. Raises FileProblem."""
    now = now or dt.datetime.now(dt.UTC)
    try:
        private.folder(folder)
        authority, authority_key = _authority(folder, host, now)
        chain, key = folder / "page.pem", folder / "page.key"
        if not _fits(chain, key, authority, host, now):
            _issue(chain, key, authority, authority_key, host, now)
    except (OSError, ValueError) as error:
        raise FileProblem(folder, f"the page's certificate can't be kept there ({error}).") from None
    der = authority.public_bytes(serialization.Encoding.DER)
    return Certificate(chain, key, der, authority.fingerprint(hashes.SHA256()).hex(":").upper())


def _authority(folder: Path, host: str, now: dt.datetime) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    path, key_path = folder / "authority.pem", folder / "authority.key"
    if path.exists() and key_path.exists():
        kept = x509.load_pem_x509_certificate(path.read_bytes())
        key = serialization.load_pem_private_key(key_path.read_bytes(), None)
        fresh = kept.not_valid_after_utc - now > RENEW_BEFORE
        if isinstance(key, ec.EllipticCurvePrivateKey) and fresh and _may_vouch(kept, host):
            return kept, key
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Crosslay on {socket.gethostname()}"[:64])])
    address = _ip(host)
    outside = [str(address)] if address is not None and not _is_local(address) else []
    networks = [x509.IPAddress(ip_network(one)) for one in (*LOCAL, *outside)]
    own = [host] if address is None else []
    names = [x509.DNSName(one) for one in dict.fromkeys((*LOCAL_NAMES, socket.gethostname() or "localhost", *own))]
    made = (
        _begun(name, name, key, now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.NameConstraints([*networks, *names], None), critical=True)
        .sign(key, hashes.SHA256())
    )
    _write(key_path, _pem_of(key))
    _write(path, made.public_bytes(serialization.Encoding.PEM))
    return made, key


def _may_vouch(authority: x509.Certificate, host: str) -> bool:
    """Whether its bounds hold an address or a name."""
    within = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or ()
    address = _ip(host)
    if address is None:
        return any(isinstance(one, x509.DNSName) and f".{host}".endswith(f".{one.value}") for one in within)
    networks = (one.value for one in within if isinstance(one, x509.IPAddress))
    return any(address in network for network in networks if isinstance(network, IPv4Network | IPv6Network))


def _is_local(address: IPv4Address | IPv6Address) -> bool:
    return any(address in ip_network(one) for one in LOCAL)


def _issue(
    chain: Path,
    key_path: Path,
    authority: x509.Certificate,
    by: ec.EllipticCurvePrivateKey,
    host: str,
    now: dt.datetime,
) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, host[:64])])
    made = (
        _begun(name, authority.subject, key, now, DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(_names(host)), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(by.public_key()), critical=False)
        .sign(by, hashes.SHA256())
    )
    both = (made, authority)
    _write(key_path, _pem_of(key))
    _write(chain, b"".join(one.public_bytes(serialization.Encoding.PEM) for one in both))


def _begun(
    name: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: dt.datetime, days: int
) -> x509.CertificateBuilder:
    """Valid from yesterday on: a phone's clock may be behind."""
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        key_cert_sign=signs,
        crl_sign=signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _names(host: str) -> list[x509.GeneralName]:
    if (address := _ip(host)) is None:
        return [x509.DNSName(host)]
    return [x509.IPAddress(address), *([x509.DNSName("localhost")] if address.is_loopback else [])]


def _ip(host: str) -> IPv4Address | IPv6Address | None:
    try:
        return ip_address(host)
    except ValueError:
        return None


def _fits(chain: Path, key: Path, authority: x509.Certificate, host: str, now: dt.datetime) -> bool:
    if not (chain.exists() and key.exists()):
        return False
    kept = x509.load_pem_x509_certificates(chain.read_bytes())[0]
    names = kept.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    fresh = kept.not_valid_after_utc - now > RENEW_BEFORE
    return fresh and kept.issuer == authority.subject and list(names) == _names(host)


def _pem_of(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, data: bytes) -> None:
    path.touch(mode=private.FILE)
    private.close(path)
    path.write_bytes(data)
