"""The certificate of a board on the local network.

It is made on the spot and lives as long as the program: nobody signs for it, so a browser warns
once, and its fingerprint is told to compare. Imported only where it is asked for: the library that
makes it takes 8 MB, and most chairs show their board to nobody else.
"""

from __future__ import annotations

import ipaddress
import ssl
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from sidecue.board.network import Certificate

_VALID_FOR = timedelta(days=7)


def certificate(address: str) -> Certificate:
    """Make a certificate for `address`. The key never stays on disk."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"sidecue board {address}")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=5))
        .not_valid_after(now + _VALID_FOR)
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]),
            critical=False,
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    # The standard library reads certificates from files alone.
    with TemporaryDirectory(prefix="sidecue-") as folder:
        file = Path(folder) / "chair.pem"
        file.touch(mode=0o600)
        file.write_bytes(
            key.private_bytes(
                serialization.Encoding.PEM,
                serialization.PrivateFormat.PKCS8,
                serialization.NoEncryption(),
            )
            + made.public_bytes(serialization.Encoding.PEM)
        )
        context.load_cert_chain(file)
    return Certificate(context, made.fingerprint(hashes.SHA256()).hex(":").upper())
