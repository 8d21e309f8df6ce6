"""Where a browser goes after an act, and the name a form was sent with."""

import pytest
from django.test import RequestFactory

from chalaza.pages.see import see, sent_uid
from chalaza.records import models as m


def test_the_next_page_names_the_act() -> None:
    act = m.Act(uid="an act&more")
    assert see("/")["Location"] == "/"
    assert see("/", act)["Location"] == "/?done=an+act%26more"
    assert see("/history/?batch=b", act)["Location"] == "/history/?batch=b&done=an+act%26more"
    assert see("/").status_code == 303


@pytest.mark.parametrize(
    ("sent", "taken"), [("abc", "abc"), ("", None), ("a b", None), ("x" * 101, None), ("\x00", None), ("ü/1", "ü/1")]
)
def test_a_name_no_row_may_have_is_none(sent: str, taken: str | None) -> None:
    assert sent_uid(RequestFactory().post("/", {"uid": sent})) == taken  # type: ignore[arg-type]  # as if it were asked


def test_a_form_without_a_name_has_none() -> None:
    assert sent_uid(RequestFactory().post("/")) is None  # type: ignore[arg-type]  # as if it were asked
