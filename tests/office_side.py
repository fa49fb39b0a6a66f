"""The side of the tests that talks to LibreOffice over UNO; runs in the Python that has the module `uno`.

Reads one JSON line a call, `[function, arguments]`, and answers with one line.
"""

import json
import sys
import time
import traceback
from pathlib import Path

import uno
import unohelper
from com.sun.star.beans import PropertyValue
from com.sun.star.task import XInteractionHandler
from com.sun.star.ucb import XCommandEnvironment, XProgressHandler

KINDS = {"EMPTY": "blank", "VALUE": "number", "TEXT": "text", "FORMULA": "formula"}
BOOKS = {}
CONTEXT = []


def connect(pipe):
    """Wait for the office and keep its component context."""
    resolver = uno.getComponentContext().ServiceManager.createInstance("com.sun.star.bridge.UnoUrlResolver")
    for attempt in range(240):
        try:
            CONTEXT.append(resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext"))
            return
        except Exception:
            if attempt == 239:
                raise
            time.sleep(0.25)


def create(service):
    return CONTEXT[0].ServiceManager.createInstanceWithContext(service, CONTEXT[0])


def properties(**given):
    return tuple(PropertyValue(name, 0, value, 0) for name, value in given.items())


def url(path):
    return Path(path).resolve().as_uri()


# -- extensions


class Approval(unohelper.Base, XCommandEnvironment, XInteractionHandler, XProgressHandler):
    """Says yes to whatever the office asks while it adds or removes an extension."""

    def getInteractionHandler(self):
        """Answer questions here."""
        return self

    def getProgressHandler(self):
        """Take progress here."""
        return self

    def handle(self, request):
        """Approve."""
        for choice in request.getContinuations():
            approve = choice.queryInterface(uno.getTypeByName("com.sun.star.task.XInteractionApprove"))
            if approve is not None:
                approve.select()

    def push(self, status):
        """Do nothing."""

    def update(self, status):
        """Do nothing."""

    def pop(self):
        """Do nothing."""


def extension_manager():
    return CONTEXT[0].getValueByName("/singletons/com.sun.star.deployment.ExtensionManager")


def install(path):
    """Add an extension for this user; an older version of it is replaced."""
    extension_manager().addExtension(url(path), (), "user", None, Approval())


def remove(identifier, name):
    extension_manager().removeExtension(identifier, name, "user", None, Approval())


def extensions():
    """Return [identifier, version] of every extension of this user and of all users."""
    found = []
    for repository in ("user", "shared"):
        for package in extension_manager().getDeployedExtensions(repository, None, None):
            found.append([repository, package.getIdentifier().Value, package.getVersion()])
    return found


# -- workbooks


def new_book():
    return _keep(
        create("com.sun.star.frame.Desktop").loadComponentFromURL(
            "private:factory/scalc", "_blank", 0, properties(Hidden=True)
        )
    )


def open_book(path):
    loaded = create("com.sun.star.frame.Desktop").loadComponentFromURL(
        url(path), "_blank", 0, properties(Hidden=True, MacroExecutionMode=4)
    )
    if loaded is None:
        raise RuntimeError(f"the office cannot open {path}")
    return _keep(loaded)


def _keep(book):
    BOOKS[len(BOOKS)] = book
    return len(BOOKS) - 1


def close_book(number):
    BOOKS[number].close(True)


def save_book(number, path, filter_name):
    BOOKS[number].storeToURL(url(path), properties(FilterName=filter_name))


def at(number, address):
    """Return cells of a book: "B2" of the first sheet, "Presses.B2" of another one."""
    sheet, _, place = address.rpartition(".")
    sheets = BOOKS[number].Sheets
    return (sheets.getByName(sheet) if sheet else sheets[0]).getCellRangeByName(place)


def add_sheet(number, name):
    BOOKS[number].Sheets.insertNewByName(name, 99)


def name_cells(number, name, content):
    """Give cells a name in the whole book; the content is like "$Sheet1.$A$1"."""
    BOOKS[number].NamedRanges.addNewByName(name, content, uno.createUnoStruct("com.sun.star.table.CellAddress"), 0)


def name_table(number, name, address):
    """Make a table of a block of the first sheet."""
    cells = BOOKS[number].Sheets[0].getCellRangeByName(address)
    BOOKS[number].DatabaseRanges.addNewByName(name, cells.getRangeAddress())


def lock(number, locked):
    """Hold back, or let go, what the book tells of its changes."""
    (BOOKS[number].lockControllers if locked else BOOKS[number].unlockControllers)()


def fill(number, cells):
    """Put values and formulas into cells: address -> number, text, None or "=formula"."""
    for address, value in cells.items():
        cell = at(number, address)
        if isinstance(value, str) and value.startswith("="):
            cell.setFormula(value)
        elif isinstance(value, str):
            cell.setString(value)
        elif value is None:
            cell.clearContents(1023)
        else:
            cell.setValue(value)


def fill_block(number, address, rows):
    """Put rows of numbers, texts and "=formulas" into a block of cells at once."""
    at(number, address).setFormulaArray(tuple(map(tuple, rows)))


def fill_array(number, address, formula):
    """Put one array formula into a block of cells."""
    at(number, address).setArrayFormula(formula)


def cells(number, addresses):
    """Return what cells show: a number, a text, None, or "!" and the number of an error."""
    return [shown(at(number, address)) for address in addresses]


def shown(cell):
    if cell.getError():
        return f"!{cell.getError()}"
    kind = KINDS[cell.getType().value]
    if kind == "formula":
        kind = {1: "number", 2: "text"}.get(cell.FormulaResultType2, "number")
    return {"number": cell.getValue, "text": cell.getString, "blank": lambda: None}[kind]()


def block(number, address):
    """Return what the cells of a block show, row by row."""
    cells = at(number, address)
    rows, columns = cells.Rows.getCount(), cells.Columns.getCount()
    return [[shown(cells.getCellByPosition(c, r)) for c in range(columns)] for r in range(rows)]


def blocks(number, addresses):
    return [block(number, address) for address in addresses]


def contents(number, address):
    """Return the values of a block of cells, with None for a blank; an error has no value, and is a blank too."""
    return [[None if value == "" else value for value in row] for row in at(number, address).getDataArray()]


def formulas(number, addresses):
    return [at(number, address).getFormula() for address in addresses]


def set_basic(number, code):
    """Give the book a Basic module, whose functions its cells may call."""
    libraries = BOOKS[number].BasicLibraries
    if not libraries.hasByName("Standard"):
        libraries.createLibrary("Standard")
    libraries.getByName("Standard").insertByName("Trial", code)


def recalculate(number):
    """Compute every formula anew and return the seconds it took."""
    started = time.perf_counter()
    BOOKS[number].calculateAll()
    return time.perf_counter() - started


def traces(number):
    """Return what an action on the document may leave behind."""
    book = BOOKS[number]
    return {
        "modified": book.isModified(),
        "undo": list(book.getUndoManager().getAllUndoActionTitles()),
        "names": list(book.NamedRanges.ElementNames),
    }


# -- the function wizard


def function_texts(names):
    """Return the texts of functions as the wizard shows them: name -> category, description, arguments."""
    described = create("com.sun.star.sheet.FunctionDescriptions")
    found = {}
    for index in range(described.getCount()):
        entry = {item.Name: item.Value for item in described.getByIndex(index)}
        if names is None or entry["Name"] in names:
            found[entry["Name"]] = {
                "category": entry["Category"],
                "description": entry["Description"],
                "arguments": [[a.Name, a.Description, a.IsOptional] for a in entry["Arguments"] or ()],
            }
    return found


def run(code):
    """Run statements against the office for a trial; they leave their answer in `result`."""
    names = dict(globals())
    exec(code, names)
    return names.get("result")


def end():
    create("com.sun.star.frame.Desktop").terminate()


def serve():
    for line in sys.stdin:
        name, arguments = json.loads(line)
        try:
            answer = ["done", globals()[name](*arguments)]
        except Exception:
            answer = ["failed", traceback.format_exc()]
            if name == "end":
                answer = ["done", None]
        print(json.dumps(answer), flush=True)
        if name == "end":
            return


if __name__ == "__main__":
    connect(sys.argv[1])
    serve()
