"""CSV: separators, encodings, quotes, rows that do not fit."""

import pytest

from farmmap.files.bring import read_source

ROWS = [["tag", "name", "x"], ["1", "Mānuka, tall", "1.5"], ["2", 'a "b"', "2.5"], ["3", "two\nlines", "3.5"]]


def written(separator: str, *, end: str = "\n") -> str:
    return end.join(separator.join('"' + field.replace('"', '""') + '"' for field in row) for row in ROWS) + end


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_separators_and_encodings(put, separator, encoding):
    source = read_source(put("a.csv", written(separator).encode(encoding)))
    assert source.rows.to_numpy().tolist() == ROWS[1:]
    assert source.row_numbers.tolist() == [2, 3, 4]


def test_windows_1252_is_said(put):
    source = read_source(put("a.csv", "tag;naam\n1;Kaurï\n".encode("cp1252")))
    assert source.rows["naam"].tolist() == ["Kaurï"]
    assert "Windows-1252" in source.said[0]


def test_blank_lines_count_as_rows_but_are_none(put):
    source = read_source(put("a.csv", "\n\ntag,x\n1,2\n\n,\n3,4\n\n"))
    assert source.row_numbers.tolist() == [4, 7]
    assert source.read == 2


def test_the_separator_that_a_spreadsheet_names(put):
    assert read_source(put("a.csv", "sep=;\ntag;x,y\n1;2,5\n")).rows.columns.tolist() == ["tag", "x,y"]


def test_a_row_with_too_much_is_set_aside_and_one_with_too_little_is_filled(put):
    source = read_source(put("a.csv", "tag,x,y\n1,2\n1,2,3,4\n5,6,7,\n"))
    assert source.rows.to_numpy().tolist() == [["1", "2", ""], ["5", "6", "7"]]
    assert [(row.row_number, row.raw["more"]) for row in source.bad] == [(3, "4")]
    assert "4 fields" in source.bad[0].reason


def test_a_quotation_mark_that_never_closes_does_not_swallow_rows(put):
    source = read_source(put("a.csv", 'tag,x\n1,2\n"3,4\n5,6\n'))
    assert source.rows.to_numpy().tolist() == [["1", "2"], ["3", "4"], ["5", "6"]]


def test_headings_that_repeat_or_are_blank_get_names(put):
    assert read_source(put("a.csv", "a,a,,b\n1,2,3,4\n")).rows.columns.tolist() == ["a", "a (2)", "column 3", "b"]


@pytest.mark.parametrize(
    ("text", "comma"),
    [
        ("x;y\n1,5;2\n", True),
        ("x;y\n1,234;2\n", True),
        ('x,y\n"1,234",2\n', False),
        ('x,y\n"1,23",2\n', True),
        ('x,y\n"1.234,5",2\n', True),
        ("x;y\n1.5;2\n", False),
    ],
)
def test_the_decimal_comma_is_found_from_the_whole_file(put, text, comma):
    assert read_source(put("a.csv", text)).decimal_comma is comma


def test_well_known_text_is_a_shape_and_grid_a_grid(put):
    source = read_source(put("a.csv", 'wkt,grid\n"POINT (1 2)",EPSG:2193\nrubbish,EPSG:2193\n'))
    assert source.epsg == 2193
    assert [shape is None for shape in source.geometry] == [False, True]
    assert read_source(put("b.csv", 'geom\n"SRID=4326;POINT (1 2)"\n')).epsg == 4326
