"""Sessions: rows known by what they are about, and pages that go on."""

from chalaza.pages.entry import session
from chalaza.records.fields import check_uid


def test_a_row_is_known_by_its_session_and_what_it_is_about() -> None:
    name = session.fresh()
    uid = session.row_uid(name, "egg", "live")
    assert uid == session.row_uid(name, "egg", "live")
    assert (
        len(
            {
                uid,
                session.row_uid(name, "egg"),
                session.row_uid(name, "egglive"),
                session.row_uid(session.fresh(), "egg", "live"),
            }
        )
        == 4
    )
    assert session.of_row(uid) == name
    assert session.of_row("hens-egg1-w0") == ""
    check_uid(session.row_uid(name, "x" * 100))


def test_a_session_goes_on_for_three_hours() -> None:
    name, other = session.fresh(), session.fresh()
    rows = [("imported", 1200), (session.row_uid(name, "a"), 1000), (session.row_uid(other, "a"), 500)]
    assert session.going_on(rows, 1000 + 3 * 3600 - 1) == name
    assert session.going_on(rows, 1000 + 3 * 3600) == ""
    assert session.going_on([], 0) == ""


def test_a_name_is_sixteen_signs() -> None:
    assert session.is_name(session.fresh())
    assert not session.is_name("A" * 16)
    assert not session.is_name("")
