"""What the benches print: a table that says plainly what is over its bound."""

from tests.bench.measure import Row, figure, medians, table


def test_a_row_over_its_bound_says_so():
    row = Row("a handout", 301, "the bare libraries", 200, 1.5)
    assert row.cells == ("a handout", "301 ms", "the bare libraries: 200 ms", "1.5", "1.5", "over")


def test_a_row_at_its_bound_is_ok():
    assert Row("queries", 12, "limit", 12, 1, "queries").cells[-1] == "ok"


def test_the_works_take_turns_and_the_clearing_comes_before_each():
    done: list[str] = []
    found = medians(lambda: done.append("a"), lambda: done.append("b"), times=2, before=lambda: done.append("-"))
    assert done == ["-", "a", "-", "b", "-", "a", "-", "b"]
    assert len(found) == 2
    assert all(took >= 0 for took in found)


def test_numbers_have_no_powers_of_ten():
    assert [figure(number) for number in (12345.6, 99.94, 1.234, 0.0123)] == ["12346", "99.9", "1.23", "0.0123"]


def test_the_table_has_a_line_for_each_row_and_its_note_below():
    lines = table([Row("one", 1, "limit", 2, 1, note="said of it"), Row("another", 3, "limit", 2, 1)]).splitlines()
    assert lines[2].startswith("one ")
    assert lines[3].split()[-1] == "over"
    assert lines[-1] == "  one: said of it"
