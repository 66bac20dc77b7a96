"""Ed25519 as sealed texts want it (RFC 8032 section 5.1): the forms asked before any library, by
arithmetic of this file's own, then the signature itself by `cryptography`."""

import functools

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
IDENTITY = (0, 1)


@functools.lru_cache(maxsize=4096)
def decode_point(encoded):
    """(x, y) of RFC 8032 section 5.1.3, None when there is no such point or it is not canonical."""
    number = int.from_bytes(encoded, "little")
    sign, y = number >> 255, number & (2**255 - 1)
    if y >= P:
        return None
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    if x * x % P != square:
        x = x * pow(2, (P - 1) // 4, P) % P
    if x * x % P != square or (x == 0 and sign):
        return None
    return (x if x & 1 == sign else P - x, y)


def add(a, b):
    (x1, y1), (x2, y2) = a, b
    t = D * x1 * x2 * y1 * y2 % P
    return ((x1 * y2 + x2 * y1) * pow(1 + t, P - 2, P) % P,
            (y1 * y2 + x1 * x2) * pow(1 - t, P - 2, P) % P)


def small_order(point):
    for _ in range(3):
        point = add(point, point)
    return point == IDENTITY


@functools.lru_cache(maxsize=4096)
def point_form_ok(encoded):
    """Shortest form, and no point of small order. Bytes that are no point at all are left to the
    signature itself: they have one form, and never verify."""
    number = int.from_bytes(encoded, "little")
    y = number & (2**255 - 1)
    if len(encoded) != 32 or y >= P:
        return False
    point = decode_point(encoded)
    if point is None:
        return not (y in (1, P - 1) and number >> 255)  # x = 0 with its sign set
    return not small_order(point)


def signature_form_ok(signature):
    return (len(signature) == 64 and point_form_ok(signature[:32]) and
            int.from_bytes(signature[32:], "little") < L)


def signed_bytes(kind, text):
    """The pre-authentication encoding of DSSE version 1."""
    payload = b"application/vnd.cardseal.%s.v1" % kind.encode()
    return b"DSSEv1 %d %s %d %s" % (len(payload), payload, len(text), text)


@functools.lru_cache(maxsize=4096)
def verifies(key, kind, text, signature):
    """`key` is 64 hex digits. The signature's form was looked at before."""
    raw = bytes.fromhex(key)
    if not point_form_ok(raw) or decode_point(raw) is None:
        return False
    try:
        Ed25519PublicKey.from_public_bytes(raw).verify(signature, signed_bytes(kind, text))
    except (InvalidSignature, ValueError):
        return False
    return True


class Seed:
    """A private key that the tests own."""

    def __init__(self, seed):
        self.private = Ed25519PrivateKey.from_private_bytes(seed)
        self.key = self.private.public_key().public_bytes(
            Encoding.Raw, PublicFormat.Raw).hex()

    @functools.lru_cache(maxsize=4096)
    def sign(self, kind, text):
        return self.private.sign(signed_bytes(kind, text))
