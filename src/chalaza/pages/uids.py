"""Names of rows in addresses: any name a row may have, so also one with a slash in it."""

from django.urls import register_converter


class Uid:
    """A path converter, `<uid:uid>`. A slash and the mark itself are written in two characters."""

    regex = r"[^/\x00]+"

    def to_python(self, value: str) -> str:
        return value.replace("~s", "/").replace("~t", "~")

    def to_url(self, value: str) -> str:
        return value.replace("~", "~t").replace("/", "~s")


register_converter(Uid, "uid")
