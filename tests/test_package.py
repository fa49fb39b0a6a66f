"""Opening workbooks: what is read, and every kind of file that is refused with one sentence and left alone."""

from __future__ import annotations

import os
import pickle
import random
import time
import zipfile
from pathlib import Path

import openpyxl
import pytest
from parts import MAIN, SHEET, differing_parts, fingerprint, workbook_parts, write_zip
from privileges import ordinary_user
from refused_files import REFUSED, sound

from pressfuncs.batch.package import Limits, Package, Relation, parse_xml
from pressfuncs.batch.refusals import Refused


@pytest.mark.parametrize("case", REFUSED)
def test_refuses_with_one_sentence_and_leaves_the_file_alone(case: str, tmp_path: Path) -> None:
    make, words = REFUSED[case]
    path = make(tmp_path)
    before = fingerprint(path) if path.is_file() else ""
    with pytest.raises(Refused, match=words) as caught:
        Package.open(path)
    assert caught.value.path == path
    sentence = str(caught.value)
    assert sentence.startswith(path.name + ": ")
    assert "\n" not in sentence
    assert len(sentence) < 300
    assert ";" in sentence, "cause; cure"
    assert (fingerprint(path) if path.is_file() else "") == before
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]


def test_refuses_folders_and_files_that_are_not_there(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="is a folder"):
        Package.open(tmp_path)
    with pytest.raises(Refused, match="does not exist; .*" + str(tmp_path / "no.xlsx")):
        Package.open(tmp_path / "no.xlsx")


def test_refuses_files_that_it_may_not_read() -> None:
    with ordinary_user() as folder:
        path = sound(folder)
        path.chmod(0)
        with pytest.raises(Refused, match="no permission"):
            Package.open(path)


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        (Limits(entries=4), 'it has 5 parts, the limit "entries" is 4; raise that limit if you trust the file'),
        (Limits(total=10_000), 'the limit "total" is 10000'),
        (Limits(part=10_000), f'{SHEET} unpacks to [0-9]+ bytes, the limit "part" is 10000'),
        (Limits(ratio=20, ratio_floor=10_000), 'times its size, the limit "ratio" is 20'),
        (Limits(file=500), 'the limit "file" is 500'),
    ],
)
def test_refuses_what_is_beyond_a_limit_and_takes_it_within(limits: Limits, words: str, tmp_path: Path) -> None:
    path = sound(tmp_path)
    with pytest.raises(Refused, match=words):
        Package.open(path, limits)
    Package.open(path).close()


def test_limits_are_taken_exactly(tmp_path: Path) -> None:
    path = sound(tmp_path)
    with zipfile.ZipFile(path) as book:
        sizes = [entry.file_size for entry in book.infolist()]
    exact = Limits(file=path.stat().st_size, entries=len(sizes), total=sum(sizes), part=max(sizes))
    Package.open(path, exact).close()
    for smaller in (
        Limits(file=exact.file - 1),
        Limits(entries=exact.entries - 1),
        Limits(total=exact.total - 1),
        Limits(part=exact.part - 1),
    ):
        with pytest.raises(Refused, match="larger than expected"):
            Package.open(path, smaller)


def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    make, _ = REFUSED["bomb_by_ratio"]
    path = make(tmp_path)
    begin = time.perf_counter()
    with pytest.raises(Refused):
        Package.open(path)
    assert time.perf_counter() - begin < 0.1


def test_entities_that_grow_cost_nothing() -> None:
    layers = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 30))
    data = f'<!DOCTYPE x [<!ENTITY e0 "ha">{layers}]><x>&e29;</x>'.encode()
    begin = time.perf_counter()
    with pytest.raises(Refused, match="declares a document type"):
        parse_xml(data, "xl/workbook.xml")
    assert time.perf_counter() - begin < 0.5


def test_a_declaration_far_down_the_prologue_is_found() -> None:
    data = b"<!--" + b"-x" * 10_000 + b"--><!DOCTYPE x><x/>"
    with pytest.raises(Refused, match="declares a document type"):
        parse_xml(data, "xl/workbook.xml")
    assert parse_xml(b"<x>&lt;!DOCTYPE x></x>", "xl/workbook.xml").text == "<!DOCTYPE x>"


def test_refusals_pass_between_processes() -> None:
    refused = pickle.loads(pickle.dumps(Refused("is empty; take another copy", Path("a/book.xlsx"))))
    assert str(refused) == "book.xlsx: is empty; take another copy"
    assert refused.path == Path("a/book.xlsx")


def test_sentences_stay_on_one_line_whatever_names_hold(tmp_path: Path) -> None:
    parts = [*workbook_parts().items(), ("xl/a\n\x1b[31m.xml", b""), ("xl/A\n\x1b[31m.xml", b"")]
    path = write_zip(tmp_path / "two\nlines.xlsx", parts)
    with pytest.raises(Refused, match="twice") as caught:
        Package.open(path)
    assert str(caught.value).isprintable()
    assert caught.value.path == path


def test_damage_of_any_kind_is_refused_or_harmless(tmp_path: Path) -> None:
    path = sound(tmp_path)
    whole = path.read_bytes()
    chance = random.Random(11)
    refused = 0
    for _ in range(500):
        data = bytearray(whole)
        for _ in range(chance.choice((1, 1, 2, 5))):
            at = (
                chance.randrange(len(data))
                if chance.random() < 0.5
                else chance.randrange(len(data) - 400, len(data))
            )
            blow = chance.choice(
                (bytes(4), b"\xff" * 4, b"PK\1\2", b"PK\5\6", chance.randbytes(1), b"", b"PK\6\7")
            )
            data[at : at + chance.choice((0, 1, len(blow), 20))] = blow
        path.write_bytes(data)
        try:
            with Package.open(path) as package:
                package.save(tmp_path / "new.xlsx", {package.workbook_part: b"<workbook/>"})
        except Refused:
            refused += 1
            continue
        with zipfile.ZipFile(tmp_path / "new.xlsx") as saved:
            assert saved.testzip() is None
    assert 250 < refused < 500


def test_reads_parts_types_and_relations(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    book = openpyxl.Workbook()
    book.create_sheet("Presses")
    book.active["A1"].hyperlink = "https://example.com/die?x=1#y"
    book.save(path)
    with Package.open(path) as package, zipfile.ZipFile(path) as other:
        assert package.names == other.namelist()
        for name in package.names:
            assert package.read(name) == other.read(name)
        assert package.workbook_part == "xl/workbook.xml"
        relations = package.relations(package.workbook_part)
        assert [r.target for r in relations.values() if r.type_tail == "worksheet"] == [
            "xl/worksheets/sheet1.xml",
            "xl/worksheets/sheet2.xml",
        ]
        assert list(package.relations(SHEET).values()) == [
            Relation("hyperlink", "https://example.com/die?x=1#y", external=True)
        ]
        assert package.relations("xl/styles.xml") == {}
        assert package.content_types()[SHEET].endswith("spreadsheetml.worksheet+xml")
        assert package.content_types()["_rels/.rels"].endswith("relationships+xml")
        assert package.has("XL/Workbook.xml")
        assert not package.has("xl/workbook2.xml")
        assert package.xml(package.workbook_part).tag == f"{{{MAIN}}}workbook"
        assert not package.signed
        assert not package.macro_enabled


def test_targets_are_found_however_they_are_written(tmp_path: Path) -> None:
    parts = workbook_parts()
    template = parts["xl/_rels/workbook.xml.rels"].decode()
    written = {
        "/xl/worksheets/sheet1.xml": SHEET,
        "Worksheets/SHEET1.xml": SHEET,
        "../xl/./worksheets/sheet1.xml#A1": SHEET,
        "worksheets/sheet%31.xml": SHEET,
        "worksheets/none.xml": "xl/worksheets/none.xml",
    }
    for target, found in written.items():
        parts["xl/_rels/workbook.xml.rels"] = template.replace("worksheets/sheet1.xml", target).encode()
        with Package.open(write_zip(tmp_path / "book.xlsx", parts)) as package:
            assert package.relations("xl/workbook.xml")["rId1"].target == found
            assert package.has(found) == (found == SHEET)


def test_tells_macros_and_signatures(tmp_path: Path) -> None:
    macros = workbook_parts(kind="application/vnd.ms-excel.sheet.macroEnabled.main+xml")
    with Package.open(write_zip(tmp_path / "book.xlsm", macros)) as package:
        assert package.macro_enabled
    signed = workbook_parts() | {"_xmlsignatures/sig1.xml": b"<Signature/>"}
    with Package.open(write_zip(tmp_path / "signed.xlsx", signed)) as package:
        assert package.signed


def test_reads_data_descriptors_folders_and_comments(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    reading, writing = os.pipe()
    with open(reading, "rb") as end:
        with open(writing, "wb") as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as book:
            book.comment = b"kept by the die shop " + bytes(8)
            book.mkdir("xl")
            for name, content in workbook_parts().items():
                book.writestr(name, content)
        path.write_bytes(end.read())
    with Package.open(path) as package:
        assert package.names == list(workbook_parts())
        package.save(tmp_path / "copy.xlsx", {SHEET: b"<worksheet/>"})
    assert differing_parts(path, tmp_path / "copy.xlsx") == {SHEET: "changed"}
    with zipfile.ZipFile(tmp_path / "copy.xlsx") as book:
        assert book.testzip() is None
        assert book.comment.startswith(b"kept by")
