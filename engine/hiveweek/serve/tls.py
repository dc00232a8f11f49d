"""The certificate by which phones know the page: one of our own with its fingerprint, or a given one."""

from __future__ import annotations

import datetime as dt
import ipaddress
import ssl
from collections.abc import Sequence
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from hiveweek.problems import InputProblems, Problem
from hiveweek.serve.secrets_kept import private

CERTIFICATE, KEY = "certificate.pem", "key.pem"
LASTS = dt.timedelta(days=397)  # phones refuse certificates that last longer
RENEWED = dt.timedelta(days=30)  # before its end


def own(folder: Path, names: Sequence[str], now: dt.datetime | None = None) -> tuple[Path, Path]:
    """Return our own certificate and its key; made where there is none that holds for these names long enough."""
    now = now or dt.datetime.now(dt.UTC)
    certificate, key = folder / CERTIFICATE, folder / KEY
    if not (key.is_file() and _holds(certificate, names, now)):
        made, secret = _made(names, now)
        private(key, secret)
        private(certificate, made)
    return certificate, key


def _holds(path: Path, names: Sequence[str], now: dt.datetime) -> bool:
    try:
        found = x509.load_pem_x509_certificate(path.read_bytes())
        told = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound):
        return False
    known = {str(name.value) for name in told}
    return set(names) <= known and found.not_valid_before_utc <= now < found.not_valid_after_utc - RENEWED


def _made(names: Sequence[str], now: dt.datetime) -> tuple[bytes, bytes]:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "hiveweek")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(hours=1))
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([_general(one) for one in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    secret = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain)
    return made.public_bytes(serialization.Encoding.PEM), secret


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def fingerprint(certificate: Path) -> str:
    """Return the SHA-256 fingerprint of a certificate, as phones show it."""
    found = x509.load_pem_x509_certificate(certificate.read_bytes())
    return found.fingerprint(hashes.SHA256()).hex(":").upper()


def context(certificate: Path, key: Path) -> ssl.SSLContext:
    """Return what TLS is served with.

    Raises
    ------
    InputProblems
        For files that are no certificate and its key.
    """
    made = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    made.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        made.load_cert_chain(certificate, key)
    except (OSError, ssl.SSLError) as error:
        raise InputProblems(
            [
                Problem(
                    "", 0, 0, "bad-certificate", f"{certificate}, {key}: no certificate with its key ({error.strerror})"
                )
            ]
        ) from None
    return made
