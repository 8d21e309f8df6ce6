"""The keeper, and the devices let in beside this computer."""

from typing import TYPE_CHECKING, Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from chalaza.records.fields import ChoiceField, MomentField, Row, check_uid, new_uid, words
from chalaza.words.numbers import Preference


class Theme(models.TextChoices):
    """Which page: as the device has it, by day, or under a lamp."""

    DEVICE = "device"
    LIGHT = "light"
    DARK = "dark"


if TYPE_CHECKING:
    _Manager = BaseUserManager["Keeper"]
else:
    _Manager = BaseUserManager


class Keepers(_Manager):
    """The one keeper of this notebook."""

    def the_one(self) -> "Keeper":
        """The keeper; made on the first call."""
        found = self.order_by("id").first()
        return found or self.get_or_create(uid="keeper")[0]


class Keeper(AbstractBaseUser):
    """Who keeps this notebook: signed in by being at this computer."""

    id = models.BigAutoField(primary_key=True)
    uid = models.CharField(max_length=120, unique=True, default=new_uid, validators=[check_uid])
    name = words(80, blank=True, default="")
    units = ChoiceField(Preference, default=Preference.BOTH)
    language = words(20, default="en")
    theme = ChoiceField(choices=Theme.choices, default=Theme.DEVICE)
    zone = words(64, default="UTC")
    remembered = models.JSONField(default=dict, blank=True)

    USERNAME_FIELD = "uid"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects: ClassVar[Keepers] = Keepers()

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.name or self.uid


class Device(Row):
    """A phone or tablet that was let in. Its cookie holds the token; here lies only what proves it."""

    name = words(80)
    proof = words(64, unique=True)
    let_in = MomentField()
    seen = MomentField(null=True, blank=True)
    put_out = MomentField(null=True, blank=True)


class Code(models.Model):
    """A code that lets one device in, once, for some minutes. Here lies only what proves it."""

    id = models.BigAutoField(primary_key=True)
    proof = words(64, unique=True)
    until = MomentField()
    used = MomentField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[Any] = ("id",)
