"""Drawings on sheets of a workbook: a copy of it with one more sheet a drawing, every other part byte for byte."""

from __future__ import annotations

import io
import itertools
import os
import posixpath
import re
import textwrap
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.saving import replace_file

_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
_DRAWING = "http://schemas.openxmlformats.org/drawingml/2006"
_EMU = 36000  # of the units of a spreadsheet picture to a mm
_PAPER_SIZES = {"A3": 8, "A4": 9}
_LETTER = 2.4  # mm that a letter of a cell takes
_LONGEST = 31  # letters of a sheet's name
_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'


@dataclass(frozen=True)
class Picture:
    """A drawing to put on a sheet of its own; sizes in mm."""

    title: str
    png: bytes
    width: float
    height: float
    paper: str
    caption: str


def put_into(book: Path, destination: Path, pictures: Sequence[Picture]) -> list[str]:
    """Write a copy of a workbook with a sheet for each picture behind the others.

    Returns:
        The names of the new sheets.

    Raises:
        Refused: the book cannot be read, is signed or locked, or the copy cannot be written.
    """
    with Package.open(book) as package:
        target = Path(os.path.realpath(destination))
        if target == Path(os.path.realpath(book)):
            raise Refused("is the book itself; a drawing is put into a copy, name another file", destination)
        _require_open(package)
        parts, changed, names = _new_parts(package, pictures)
        data = _written(book, parts, changed)
    replace_file(target, iter((data,)), os.stat(book))
    return names


def _require_open(package: Package) -> None:
    book = package.read(package.workbook_part)
    if package.signed:
        raise Refused("is digitally signed, and another sheet would break the signature", package.path)
    if b"purl.oclc.org/ooxml" in book:
        raise Refused("is kept in the strict format; save it as an ordinary .xlsx and run again", package.path)
    protection = next(
        (e for e in package.xml(package.workbook_part) if e.tag.endswith("}workbookProtection")), None
    )
    if protection is not None and protection.get("lockStructure", "0") in ("1", "true"):
        raise Refused("has a locked structure: no sheet may be added; unlock it and run again", package.path)


def _new_parts(
    package: Package, pictures: Sequence[Picture]
) -> tuple[dict[str, bytes], dict[str, bytes], list[str]]:
    """Return the parts to add, the parts to change, and the names of the new sheets."""
    book = package.workbook_part
    folder, name = posixpath.split(book)
    rels = posixpath.join(folder, "_rels", f"{name}.rels")
    sheets = [e for e in package.xml(book).iter() if e.tag.endswith("}sheet")]
    taken = {sheet.get("name", "").casefold() for sheet in sheets}
    highest = max((int(sheet.get("sheetId", "0")) for sheet in sheets), default=0)
    known = {entry.casefold() for entry in package.names}
    ids = set(package.relations(book))
    added: dict[str, bytes] = {}
    entries, relations, types, names = [], [], [], []
    for picture in pictures:
        number = next(n for n in itertools.count(1) if known.isdisjoint(map(str.casefold, _paths(folder, n))))
        sheet, drawing, media = _paths(folder, number)
        title = _free_name(picture.title, taken)
        taken.add(title.casefold())
        names.append(title)
        known.update(map(str.casefold, (sheet, drawing, media)))
        relation = next(name for name in (f"rIdDie{n}" for n in itertools.count(1)) if name not in ids)
        ids.add(relation)
        highest += 1
        entries.append(
            f'<sheet xmlns:r="{_OFFICE}" name={quoteattr(title)} sheetId="{highest}" r:id="{relation}"/>'
        )
        relations.append(_relation(relation, "worksheet", posixpath.relpath(sheet, folder)))
        types.append(_override(sheet, "spreadsheetml.worksheet") + _override(drawing, "drawing"))
        added |= {
            sheet: _sheet_xml(picture),
            _rels_of(sheet): _rels_xml("rId1", "drawing", posixpath.relpath(drawing, posixpath.dirname(sheet))),
            drawing: _drawing_xml(picture),
            _rels_of(drawing): _rels_xml("rId1", "image", posixpath.relpath(media, posixpath.dirname(drawing))),
            media: picture.png,
        }
    content = package.read("[Content_Types].xml")
    png = "" if re.search(rb'Extension\s*=\s*["\']png["\']', content, re.IGNORECASE) else _PNG
    changed = {
        book: _inserted(package, book, "sheets", entries),
        rels: _inserted(package, rels, "Relationships", relations),
        "[Content_Types].xml": _inserted(package, "[Content_Types].xml", "Types", [png, *types]),
    }
    return added, changed, names


_PNG = '<Default Extension="png" ContentType="image/png"/>'


def _paths(folder: str, number: int) -> tuple[str, str, str]:
    """Return the names of a sheet, its drawing and its picture."""
    join = posixpath.join
    return (
        join(folder, "worksheets", f"die_drawing_{number}.xml"),
        join(folder, "drawings", f"die_drawing_{number}.xml"),
        join(folder, "media", f"die_drawing_{number}.png"),
    )


def _free_name(title: str, taken: set[str]) -> str:
    """Return a name that a sheet may have and none has yet."""
    plain = re.sub(r"[\[\]:*?/\\]", "-", title).strip("' ")[:_LONGEST] or "Die"
    name, number = plain, 2
    while name.casefold() in taken:
        ending = f" ({number})"
        name, number = plain[: _LONGEST - len(ending)] + ending, number + 1
    return name


def _inserted(package: Package, part: str, element: str, new: Sequence[str]) -> bytes:
    """Return a part with new elements at the end of one of its elements, in that element's own prefix."""
    data = package.read(part)
    ends = list(re.finditer(rb"</([A-Za-z_][\w.-]*:)?%s\s*>" % element.encode(), data))
    if not ends:
        raise Refused(f"the part {part} cannot be added to; save the book anew in the application", package.path)
    end = ends[-1]
    prefix = (end[1] or b"").decode()
    elements = "".join(new).replace("<", f"<{prefix}") if prefix else "".join(new)
    return data[: end.start()] + elements.encode("utf-8") + data[end.start() :]


def _relation(name: str, kind: str, target: str) -> str:
    return f'<Relationship Id="{name}" Type="{_OFFICE}/{kind}" Target="{target}"/>'


def _override(part: str, kind: str) -> str:
    content = f"application/vnd.openxmlformats-officedocument.{kind}+xml"
    return f'<Override PartName="/{part}" ContentType="{content}"/>'


def _rels_of(part: str) -> str:
    folder, name = posixpath.split(part)
    return posixpath.join(folder, "_rels", f"{name}.rels")


def _rels_xml(name: str, kind: str, target: str) -> bytes:
    return f'{_HEAD}<Relationships xmlns="{_PACKAGE}">{_relation(name, kind, target)}</Relationships>'.encode()


def _sheet_xml(picture: Picture) -> bytes:
    way = "portrait" if picture.height > picture.width else "landscape"
    rows = [
        f'<row r="{n}"><c r="A{n}" t="inlineStr"><is><t>{escape(line)}</t></is></c></row>'
        for n, line in enumerate(_caption_lines(picture), 1)
    ]
    return (
        f'{_HEAD}<worksheet xmlns="{_MAIN}" xmlns:r="{_OFFICE}">'
        '<sheetPr><pageSetUpPr fitToPage="1"/></sheetPr>'
        '<sheetViews><sheetView showGridLines="0" workbookViewId="0"/></sheetViews>'
        f"<sheetData>{''.join(rows)}</sheetData>"
        '<pageMargins left="0.2" right="0.2" top="0.2" bottom="0.2" header="0.1" footer="0.1"/>'
        f'<pageSetup paperSize="{_PAPER_SIZES[picture.paper]}" orientation="{way}"/>'
        '<drawing r:id="rId1"/></worksheet>'
    ).encode()


def _caption_lines(picture: Picture) -> list[str]:
    """Return the caption in lines that are no wider than the picture, so that the page prints as wide as that."""
    return textwrap.wrap(picture.caption, int(picture.width / _LETTER))


def _drawing_xml(picture: Picture) -> bytes:
    size = f'cx="{round(picture.width * _EMU)}" cy="{round(picture.height * _EMU)}"'
    name = quoteattr(picture.title)
    below = len(_caption_lines(picture)) + 1
    return (
        f'{_HEAD}<xdr:wsDr xmlns:xdr="{_DRAWING}/spreadsheetDrawing" xmlns:a="{_DRAWING}/main">'
        f"<xdr:oneCellAnchor><xdr:from><xdr:col>0</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>{below}</xdr:row>"
        f"<xdr:rowOff>0</xdr:rowOff></xdr:from><xdr:ext {size}/>"
        f'<xdr:pic><xdr:nvPicPr><xdr:cNvPr id="2" name={name} descr={quoteattr(picture.caption)}/>'
        '<xdr:cNvPicPr><a:picLocks noChangeAspect="1"/></xdr:cNvPicPr></xdr:nvPicPr>'
        f'<xdr:blipFill><a:blip xmlns:r="{_OFFICE}" r:embed="rId1"/><a:stretch><a:fillRect/></a:stretch>'
        f'</xdr:blipFill><xdr:spPr><a:xfrm><a:off x="0" y="0"/><a:ext {size}/></a:xfrm>'
        '<a:prstGeom prst="rect"><a:avLst/></a:prstGeom></xdr:spPr></xdr:pic><xdr:clientData/>'
        "</xdr:oneCellAnchor></xdr:wsDr>"
    ).encode()


def _written(book: Path, added: dict[str, bytes], changed: dict[str, bytes]) -> bytes:
    """Return the zip of the copy: the old parts in their order, then the new ones."""
    buffer = io.BytesIO()
    changed = {name.casefold(): data for name, data in changed.items()}
    with zipfile.ZipFile(book) as old, zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            data = changed.get(info.filename.casefold())
            new.writestr(info, old.read(info) if data is None else data, info.compress_type)
        for name, data in added.items():
            new.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
