"""Cells of .ods files as office programs write them."""

from __future__ import annotations

import datetime as dt
import zipfile

import pytest

from rearkit.logbook.files.cells import read_cells

HEAD = (
    '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0" '
    'xmlns:draw="urn:oasis:names:tc:opendocument:xmlns:drawing:1.0" '
    'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0" '
    'xmlns:fo="urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0">'
    '<office:automatic-styles><style:style style:name="red" style:family="table-cell">'
    '<style:table-cell-properties fo:background-color="#ff0000"/></style:style>'
    "</office:automatic-styles><office:body><office:spreadsheet>{settings}"
    '<table:table table:name="Daily">'
)
FOOT = "</table:table></office:spreadsheet></office:body></office:document-content>"


def grid(tmp_path, rows, settings=""):
    with zipfile.ZipFile(tmp_path / "log.ods", "w") as out:
        out.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        out.writestr("content.xml", HEAD.format(settings=settings) + rows + FOOT)
    return read_cells(tmp_path / "log.ods")["Daily"]


def cell(tmp_path, xml):
    return grid(tmp_path, f"<table:table-row>{xml}</table:table-row>").rows.get(1, {}).get(1)


@pytest.mark.parametrize(
    ("xml", "text", "value", "kind"),
    [
        ('<table:table-cell office:value-type="float" office:value="25.50"><text:p>25,5</text:p>'
         "</table:table-cell>", "25.5", 25.5, "number"),
        ('<table:table-cell office:value-type="percentage" office:value="0.2"/>', "20%", 0.2,
         "percent"),
        ('<table:table-cell office:value-type="date" office:date-value="2025-04-03T18:30:00"/>',
         "2025-04-03 18:30", dt.datetime(2025, 4, 3, 18, 30), "date"),
        ('<table:table-cell office:value-type="time" office:time-value="PT18H30M00S"/>', "18:30",
         1110.0, "time"),
        ('<table:table-cell office:value-type="boolean" office:boolean-value="true"/>', "TRUE",
         True, "flag"),
        ('<table:table-cell office:value-type="string"><text:p>a<text:s text:c="2"/>b'
         "<text:span>c</text:span></text:p><text:p>d</text:p></table:table-cell>", "a  bc\nd",
         "a  bc\nd", "text"),
        ('<table:table-cell office:value-type="string" office:string-value="K1"/>', "K1", "K1",
         "text"),
        ('<table:table-cell office:value-type="string" table:formula="of:=1/0" '
         'calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>', "#DIV/0!", None,
         "error"),
        ('<table:table-cell table:formula="of:=1+1"/>', "", None, "no_value"),
    ],
)  # fmt: skip
def test_kinds_of_cells(tmp_path, xml, text, value, kind):
    found = cell(tmp_path, xml)
    assert (found.text, found.value, found.kind) == (text, value, kind)


def test_remarks_and_drawings_are_no_part_of_the_text(tmp_path):
    found = cell(
        tmp_path,
        '<table:table-cell office:value-type="string"><office:annotation><text:p>why?</text:p>'
        "</office:annotation><draw:frame><text:p>photo</text:p></draw:frame><text:p>K1</text:p>"
        "</table:table-cell>",
    )
    assert found.text == "K1"


def test_repeated_cells_and_rows_keep_their_places(tmp_path):
    found = grid(
        tmp_path,
        '<table:table-row table:number-rows-repeated="3"><table:table-cell/></table:table-row>'
        '<table:table-row table:number-rows-repeated="2">'
        '<table:table-cell table:number-columns-repeated="2"/>'
        '<table:table-cell table:number-columns-repeated="2" office:value-type="float" '
        'office:value="7"/></table:table-row>',
    )
    assert sorted(found.rows) == [4, 5]
    assert sorted(found.rows[5]) == [3, 4]


def test_merged_cells(tmp_path):
    found = grid(
        tmp_path,
        '<table:table-row><table:table-cell table:number-rows-spanned="2" '
        'table:number-columns-spanned="1" office:value-type="string"><text:p>K1</text:p>'
        "</table:table-cell></table:table-row><table:table-row><table:covered-table-cell>"
        "<text:p>hidden</text:p></table:covered-table-cell></table:table-row>",
    )
    assert found.merged == [(1, 1, 2, 1)]
    assert sorted(found.rows) == [1]


def test_a_coloured_cell_has_a_look_of_its_own(tmp_path):
    value = 'office:value-type="float" office:value="7"'
    red = cell(tmp_path, f'<table:table-cell table:style-name="red" {value}/>')
    plain = cell(tmp_path, f"<table:table-cell {value}/>")
    assert plain.look == 0
    assert red.look > 0


def test_days_counted_from_1904(tmp_path):
    settings = (
        '<table:calculation-settings><table:null-date table:date-value="1904-01-01"/>'
        "</table:calculation-settings>"
    )
    assert grid(tmp_path, "", settings).from_1904 is True
    assert grid(tmp_path, "").from_1904 is False
