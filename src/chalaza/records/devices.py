"""Phones and tablets beside this computer: let in one by one by a code, known by a cookie, put out again.

Neither a code nor the token of a cookie is kept: only what proves it. Letting in and putting out are acts.
"""

import base64
import hashlib
import secrets

from django.db import transaction

from chalaza.errors import NotebookError
from chalaza.records import models as m
from chalaza.records.acts import act
from chalaza.words.language import mark

#: How long a code holds. [s]
CODE_S = 300
#: When a device was last seen is written down at most this often. [s]
SEEN_S = 300
LET_IN, PUT_OUT = "let in", "put out"


def _proof(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def new_code(now: int) -> str:
    """A code that lets one device in, once, within five minutes: 128 random bits as 26 small letters and figures."""
    code = base64.b32encode(secrets.token_bytes(16)).decode("ascii").rstrip("=").lower()
    with transaction.atomic():
        m.Code.objects.filter(until__lt=now).delete()
        m.Code.objects.create(proof=_proof(code), until=now + CODE_S)
    return code


def holds(code: str, now: int) -> bool:
    """Whether a code still lets somebody in."""
    return m.Code.objects.filter(proof=_proof(code), used=None, until__gte=now).exists()


def let_in(code: str, name: str, keeper: "m.Keeper", now: int) -> tuple["m.Device", str]:
    """Let a device in by a code, which is then used; the device and the token for its cookie.

    Raises `NotebookError` for a code that does not hold, `ActError` for a name that cannot be kept; a code is then not
    used up.
    """
    token = secrets.token_urlsafe(32)
    device = m.Device(name=name, proof=_proof(token), let_in=now, seen=now)
    with transaction.atomic():
        if m.Code.objects.filter(proof=_proof(code), used=None, until__gte=now).update(used=now) != 1:
            raise NotebookError(
                mark("This code does not let anybody in any more: it was used, or is older than five minutes.")
            )
        act(keeper, LET_IN, save=[device], subject=name)
    return device, token


def known(token: str, now: int) -> "m.Device | None":
    """The device that is let in and has this token; that it was seen is written down every few minutes."""
    device = m.Device.objects.filter(proof=_proof(token), put_out=None).first() if token else None
    if device is not None and (device.seen or 0) < now - SEEN_S:
        m.Device.objects.filter(pk=device.pk).update(seen=now)
    return device


def put_out(device: "m.Device", keeper: "m.Keeper", now: int) -> None:
    """Put a device out; it may come back by a new code only."""
    if device.put_out is None:
        device.put_out = now
        act(keeper, PUT_OUT, save=[device], subject=device.name)


def those_let_in() -> list["m.Device"]:
    """The devices that are let in, in the order they came."""
    return list(m.Device.objects.filter(put_out=None).order_by("id"))
