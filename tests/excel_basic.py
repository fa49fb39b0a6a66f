"""pressfuncs.bas in LibreOffice Basic, with stand-ins for what Excel gives: ranges of cells, and xlwings' object.

Behind the stand-in for xlwings' object is the COM server of xlwings itself, on stand-ins for pywin32 (excel_com):
a call goes from our VBA functions through all code of xlwings into pressfuncs and back.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import xlwings
from calc_office import Office

from pressfuncs.build import excel_vba
from pressfuncs.registry import FUNCTIONS, FunctionSpec

PYTHON_PATH = [
    str(Path(__file__).parent),
    str(Path(__file__).parent.parent),
    str(Path(xlwings.__file__).parent.parent),
]

OFFICE_SIDE = """
import sys, unohelper, excel_com
from com.sun.star.task import XJob

context = excel_com.connected()
excel = context.__enter__()

class Server(unohelper.Base, XJob):
    def execute(self, given):
        module, function, sent = (item.Value for item in given)
        answer = excel.server.CallUDF(module, function, sent)
        return frozen(answer)

def frozen(value):
    return tuple(map(frozen, value)) if isinstance(value, list) else value

book = create("com.sun.star.frame.Desktop").loadComponentFromURL(
    "private:factory/scalc", "_blank", 0, properties(Hidden=True, MacroExecutionMode=4)
)
library = book.BasicLibraries.createLibrary("Standard")
for name, source in MODULES.items():
    library.insertByName(name, source)
provider = book.getScriptProvider()

def call(function, *given):
    script = provider.getScript(f"vnd.sun.star.script:Standard.Driver.{function}?language=Basic&location=document")
    return script.invoke(given, (), ())[0]

def ask(function, given):
    return call("Ask" + function, frozen(given))

call("Connect", Server())
BOOKS["excel"] = (ask, call, context)
"""

SERVER = """
Option VBASupport 1
Option ClassModule
Public server As Object

Function CallUDF(moduleName, functionName, ByVal sent)
    Dim words(2) As New com.sun.star.beans.NamedValue
    Dim place As Long
    For place = 0 To UBound(sent)
        sent(place) = AsCom(sent(place))
    Next place
    words(0).Value = moduleName
    words(1).Value = functionName
    words(2).Value = sent
    CallUDF = FromCom(server.execute(words()))
End Function
"""

CELLS = """
Option VBASupport 1
Option ClassModule
Public Value As Variant
Public Value2 As Variant
"""

DRIVER = """
Option VBASupport 1
Global pythonServer As Object

Sub Connect(given)
    Set pythonServer = given
End Sub

Function Disconnect()
    Set pythonServer = Nothing
End Function

Function XLPy() As Object
    Dim answering As New Server
    Set answering.server = pythonServer
    Set XLPy = answering
End Function

' An error goes over COM as a whole number.
Function AsCom(ByVal value)
    AsCom = value
    If IsError(value) Then AsCom = CLng("-2146828288") + CLng(Mid(CStr(value), 7))
    If IsArray(value) Then
        Dim row As Long, column As Long
        For row = LBound(value, 1) To UBound(value, 1)
            For column = LBound(value, 2) To UBound(value, 2)
                If IsError(value(row, column)) Then
                    value(row, column) = CLng("-2146828288") + CLng(Mid(CStr(value(row, column)), 7))
                End If
            Next column
        Next row
        AsCom = value
    End If
End Function

' COM makes a table of rows of equal length into an array of two dimensions.
Function FromCom(value)
    FromCom = value
    If Not IsArray(value) Then Exit Function
    If Not IsArray(value(0)) Then Exit Function
    FromCom = Table(value)
End Function

Function Table(rows)
    Dim made() As Variant, row As Long, column As Long
    ReDim made(1 To UBound(rows) + 1, 1 To UBound(rows(0)) + 1)
    For row = 0 To UBound(rows)
        For column = 0 To UBound(rows(0))
            made(row + 1, column + 1) = Cell(rows(row)(column))
        Next column
    Next row
    Table = made
End Function

' What a test writes for cells that JSON does not know.
Function Cell(value)
    Cell = value
    If VarType(value) <> vbString Then Exit Function
    If Left(value, 6) = "Error " Then Cell = CVErr(CLng(Mid(value, 7)))
    If Left(value, 4) = "CCur" Then Cell = CCur(Mid(value, 5))
End Function

' Each argument as a formula hands it over: a range of cells, or a plain value.
Function Given(value)
    If Not IsArray(value) Then
        Given = Cell(value)
        Exit Function
    End If
    Dim made As New CellRange
    If UBound(value) = 0 And UBound(value(0)) = 0 Then
        made.Value = Cell(value(0)(0))
    Else
        made.Value = Table(value)
    End If
    made.Value2 = Uncut(value)
    Set Given = made
End Function

' What Value2 gives: no error is cut, and money is a number with all its digits.
Function Uncut(value)
    If UBound(value) = 0 And UBound(value(0)) = 0 Then
        Uncut = UncutCell(value(0)(0))
        Exit Function
    End If
    Dim made As Variant, row As Long, column As Long
    made = Table(value)
    For row = 1 To UBound(made, 1)
        For column = 1 To UBound(made, 2)
            made(row, column) = UncutCell(value(row - 1)(column - 1))
        Next column
    Next row
    Uncut = made
End Function

Function UncutCell(value)
    UncutCell = Cell(value)
    If VarType(value) = vbString And Left(value, 4) = "CCur" Then UncutCell = CDbl(Mid(value, 5))
End Function

Function Shown(value)
    If IsError(value) Then
        Shown = CStr(value)
    ElseIf IsArray(value) Then
        Shown = ShownTable(value)
    Else
        Shown = value
    End If
End Function

Function ShownTable(value)
    Dim rows() As Variant, row As Long, flat As Boolean
    flat = True
    On Error GoTo made
    row = UBound(value, 2)
    flat = False
made:
    On Error GoTo 0
    If flat Then
        ShownTable = Array(ShownRow(value, 0, True))
        Exit Function
    End If
    ReDim rows(0 To UBound(value, 1) - LBound(value, 1))
    For row = LBound(value, 1) To UBound(value, 1)
        rows(row - LBound(value, 1)) = ShownRow(value, row, False)
    Next row
    ShownTable = rows
End Function

Function ShownRow(value, row, flat)
    Dim cells() As Variant, column As Long, least As Long, most As Long
    If flat Then
        least = LBound(value)
        most = UBound(value)
    Else
        least = LBound(value, 2)
        most = UBound(value, 2)
    End If
    ReDim cells(0 To most - least)
    For column = least To most
        If flat Then
            cells(column - least) = Shown(value(column))
        Else
            cells(column - least) = Shown(value(row, column))
        End If
    Next column
    ShownRow = cells
End Function

Function Problem()
    Problem = LastPressfuncsProblem()
End Function
"""


def modules() -> dict[str, str]:
    """Return the Basic modules: ours as it is written, and the stand-ins."""
    ours = excel_vba.render().replace("\r\n", "\n")
    attribute, _, rest = ours.partition("\n")
    assert attribute.startswith("Attribute VB_Name")  # which the VBA editor takes off when it imports the file
    rest = rest.replace("Application.MacroOptions", "TakeMacroOptions")
    drivers = "\n".join(driver(spec) for spec in FUNCTIONS.values())
    problem = "\nFunction LastPressfuncsProblem()\n    LastPressfuncsProblem = lastProblem\nEnd Function\n"
    return {
        "pressfuncs_functions": "Option VBASupport 1\n" + rest + problem,
        "Server": SERVER,
        "CellRange": CELLS,
        "Driver": DRIVER + RECORDER + drivers,
    }


RECORDER = """
Global recorded As Variant
Global recordedCount As Long

Sub TakeMacroOptions(Optional Macro, Optional Description, Optional Category, Optional ArgumentDescriptions)
    Dim kept As Variant
    kept = recorded
    ReDim Preserve kept(0 To recordedCount)
    If IsMissing(ArgumentDescriptions) Then
        kept(recordedCount) = Array(Macro, Description, Category, Array())
    Else
        kept(recordedCount) = Array(Macro, Description, Category, ArgumentDescriptions)
    End If
    recorded = kept
    recordedCount = recordedCount + 1
End Sub

Function Registered()
    recordedCount = 0
    recorded = Array()
    PressfuncsRegister
    Registered = recorded
End Function
"""


def driver(spec: FunctionSpec) -> str:
    """Return a Basic function that calls one worksheet function with as many arguments as there are."""
    least = sum(argument.required for argument in spec.arguments)
    most = spec.most_arguments if spec.most_arguments is not None else 16
    cases = "".join(
        f"        Case {count}: Ask{spec.sheet_name} = Shown({spec.sheet_name}("
        + ", ".join(f"Given(words({i}))" for i in range(count))
        + "))\n"
        for count in range(least, most + 1)
    )
    head = f"Function Ask{spec.sheet_name}(words)\n    Select Case UBound(words) + 1\n"
    return f"{head}{cases}    End Select\nEnd Function\n"


class Excel:
    """Our VBA module in an office: `ask` calls one of its functions with the values of cells."""

    def __init__(self, office: Office) -> None:
        """Load the modules and connect them with Python."""
        self.office = office
        office.do("run", f"import sys\nsys.path += {PYTHON_PATH!r}\nMODULES = {modules()!r}\n{OFFICE_SIDE}")

    def ask(self, name: str, given: list[Any]) -> Any:
        """Return the answer of a worksheet function: a value, rows, or "Error 2036" for an error value."""
        return self.office.do("run", f"result = BOOKS['excel'][0]({name!r}, {given!r})")

    def call(self, name: str, *given: Any) -> Any:
        """Call a function of the driver."""
        return self.office.do("run", f"result = BOOKS['excel'][1]({name!r}, *{given!r})")
