from chalaza.charts.table import Column, Table


def test_shares_are_told_in_per_cent_and_what_is_unknown_is_empty():
    table = Table(
        (Column(""), Column("lost", "1"), Column("lag", "h", 0)), (("now", 0.0936, -3.2), ("later", None, 4.0))
    )
    assert table.head() == ("", "lost, %", "lag, h")
    assert table.text() == (("now", "9.4", "−3"), ("later", "", "4"))
