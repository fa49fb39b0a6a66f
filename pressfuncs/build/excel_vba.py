"""Generator of pressfuncs.bas: the worksheet functions for Excel as a VBA module, with real error values.

Its functions call `pressfuncs.hosts.excel` through xlwings and turn the texts of errors that come back into
errors, element by element; that is what xlwings' own import of functions does not do.
"""

from __future__ import annotations

from collections.abc import Iterable

from pressfuncs._version import __version__
from pressfuncs.hosts.excel_texts import ERROR_NUMBERS, HOST_MODULE, category, help_of_arguments, help_text
from pressfuncs.registry import FUNCTIONS, UNITS_ARGUMENT, FunctionSpec

MODULE_NAME = "pressfuncs_functions"

MOST_CONTINUED_LINES = 24
"""Lines that VBA lets one statement go on for."""

LONGEST_LINE = 1023

RESERVED = frozenset(
    """
    abs addressof and any array as attribute boolean byref byte byval call case cbool cbyte ccur cdate cdbl cdec
    cdecl cint circle clng clnglng clngptr close const csng cstr currency cvar cverr date debug decimal declare
    defbool defbyte defcur defdate defdbl defdec defint deflng deflnglng deflngptr defobj defsng defstr defvar dim
    do doevents double each else elseif empty end endif enum eqv erase event exit false fix for friend function get
    global gosub goto if imp implements in input inputb int integer is lbound len lenb let like lock long longlong
    longptr loop lset me mod new next not nothing null on open option optional or paramarray preserve print private
    pset public put raiseevent redim rem resume return rset scale seek select set sgn shared single spc static stop
    string sub tab then to true type typeof ubound unlock until variant wend while with withevents write xor
    """.split()
)
"""Words that VBA keeps for itself, in any letter case; an argument must not be called so."""

HEADER = f"""\
Attribute VB_Name = "{MODULE_NAME}"
Option Explicit

' pressfuncs {__version__}: worksheet functions for press work. Written by 'pressfuncs connect excel'; do not edit.
' It needs the module of xlwings in the same project or as a reference, and pressfuncs in that Python.
' Planning figures only: verify on the machine's plate and the maker's capacity curve.

Private lastProblem As String
"""

CORE = """
Private Function PressfuncsCall(functionName As String, given As Variant) As Variant
    Dim sent() As Variant, place As Long
    On Error GoTo failed
    If UBound(given) < LBound(given) Then
        PressfuncsCall = PressfuncsErrors(XLPy.CallUDF("@HOST@", functionName, Array()))
        Exit Function
    End If
    ReDim sent(0 To UBound(given) - LBound(given))
    For place = LBound(given) To UBound(given)
        sent(place - LBound(given)) = PressfuncsValue(given(place))
    Next place
    PressfuncsCall = PressfuncsErrors(XLPy.CallUDF("@HOST@", functionName, sent))
    Exit Function
failed:
    ' Python was not reached; a refused input never comes here.
    lastProblem = functionName & ": " & Err.Description
    PressfuncsCall = CVErr(@UNREACHED@)
End Function

Private Function PressfuncsValue(Optional given As Variant) As Variant
    ' The value of a cell or the values of a range; Empty for what is left out.
    If IsMissing(given) Then
        PressfuncsValue = Empty
    ElseIf IsObject(given) Then
        PressfuncsValue = PressfuncsRange(given)
    Else
        PressfuncsValue = given
    End If
End Function

Private Function PressfuncsRange(cells As Variant) As Variant
    ' Value tells dates from numbers, but cuts a cell in a currency format to four decimals: there take Value2.
    Dim shown As Variant, plain As Variant, row As Long, column As Long
    shown = cells.Value
    If Not IsArray(shown) Then
        If VarType(shown) = vbCurrency Then shown = cells.Value2
        PressfuncsRange = shown
        Exit Function
    End If
    For row = LBound(shown, 1) To UBound(shown, 1)
        For column = LBound(shown, 2) To UBound(shown, 2)
            If VarType(shown(row, column)) = vbCurrency Then
                If IsEmpty(plain) Then plain = cells.Value2
                shown(row, column) = plain(row, column)
            End If
        Next column
    Next row
    PressfuncsRange = shown
End Function

Private Function PressfuncsErrors(ByVal found As Variant) As Variant
    ' Real errors in the place of their texts, element by element.
    Dim row As Long, column As Long
    Select Case PressfuncsDimensions(found)
        Case 0
            found = PressfuncsError(found)
        Case 1
            For row = LBound(found) To UBound(found)
                found(row) = PressfuncsError(found(row))
            Next row
        Case Else
            For row = LBound(found, 1) To UBound(found, 1)
                For column = LBound(found, 2) To UBound(found, 2)
                    found(row, column) = PressfuncsError(found(row, column))
                Next column
            Next row
    End Select
    PressfuncsErrors = found
End Function

Private Function PressfuncsDimensions(found As Variant) As Long
    Dim bound As Long
    PressfuncsDimensions = 0
    If Not IsArray(found) Then Exit Function
    On Error GoTo counted
    bound = UBound(found, 1)
    PressfuncsDimensions = 1
    bound = UBound(found, 2)
    PressfuncsDimensions = 2
counted:
End Function

Private Function PressfuncsError(found As Variant) As Variant
    PressfuncsError = found
    If VarType(found) <> vbString Then Exit Function
    If Left(found, 1) <> "#" Then Exit Function
    Select Case found
@ERRORS@
    End Select
End Function

Public Sub PressfuncsStatus()
    ' Says whether Python answers, and what went wrong last.
    Dim answer As Variant
    answer = PressfuncsCall("PF_VERSION", Array())
    If IsError(answer) Then
        MsgBox "pressfuncs does not answer: " & lastProblem, vbExclamation, "pressfuncs"
    Else
        MsgBox "pressfuncs " & answer & " answers.", vbInformation, "pressfuncs"
    End If
End Sub

Private Sub PressfuncsDescribe(functionName As String, description As String, category As String, texts As Variant)
    If UBound(texts) < LBound(texts) Then
        Application.MacroOptions Macro:=functionName, Description:=description, Category:=category
    Else
        Application.MacroOptions Macro:=functionName, Description:=description, Category:=category, _
            ArgumentDescriptions:=texts
    End If
End Sub
"""


def render() -> str:
    """Return the text of the module, with the line ends that the VBA editor wants."""
    specs = list(FUNCTIONS.values())
    errors = "\n".join(
        f'        Case "{text}": PressfuncsError = CVErr({number})' for text, number in ERROR_NUMBERS.items()
    )
    core = CORE.replace("@ERRORS@", errors).replace("@HOST@", HOST_MODULE)
    core = core.replace("@UNREACHED@", str(ERROR_NUMBERS["#NAME?"]))
    text = "\n".join([HEADER + core, *map(worksheet_function, specs), *_help_subs(specs)])
    return text.replace("\n", "\r\n")


def worksheet_function(spec: FunctionSpec) -> str:
    """Return one worksheet function in VBA."""
    names = [safe_name(argument.name) for argument in spec.arguments]
    declared = [
        f"ParamArray {name}() As Variant"
        if argument.variadic
        else f"{'' if argument.required else 'Optional '}{name} As Variant"
        for argument, name in zip(spec.arguments, names, strict=True)
    ]
    if spec.has_units:
        declared.append(f"Optional {UNITS_ARGUMENT} As Variant")
        names.append(UNITS_ARGUMENT)
    head = f"Public Function {spec.sheet_name}({', '.join(declared)}) As Variant"
    given = "all" if spec.variadic else f"Array({', '.join(names)})"
    call = f'    {spec.sheet_name} = PressfuncsCall("{spec.sheet_name}", {given})\n'
    lines = _gather(names) if spec.variadic else ""
    return f"{_wrapped(head)}\n{lines}{_wrapped(call)}End Function\n"


def _gather(names: list[str]) -> str:
    """Return the statements that put plain arguments and further values into one array `all`."""
    *plain, further = names
    stores = "".join(
        f"    If IsObject({n}) Then Set all({i}) = {n} Else all({i}) = {n}\n" for i, n in enumerate(plain)
    )
    return (
        "    Dim all() As Variant, place As Long\n"
        f"    ReDim all(0 To {len(plain)} + UBound({further}))\n"
        f"{stores}"
        f"    For place = 0 To UBound({further})\n"
        f"        If IsObject({further}(place)) Then\n"
        f"            Set all({len(plain)} + place) = {further}(place)\n"
        "        Else\n"
        f"            all({len(plain)} + place) = {further}(place)\n"
        "        End If\n"
        "    Next place\n"
    )


def safe_name(name: str) -> str:
    """Return an argument's name as VBA takes it: a word of VBA's own gets a low line behind it.

    >>> safe_name("thickness"), safe_name("stop")
    ('thickness', 'stop_')
    """
    return f"{name}_" if name.lower() in RESERVED else name


def _help_subs(specs: Iterable[FunctionSpec]) -> list[str]:
    """Return the macros that give Excel's function wizard its texts, one a chapter and one that runs them all."""
    chapters: dict[str, list[FunctionSpec]] = {}
    for spec in specs:
        chapters.setdefault(spec.chapter, []).append(spec)
    subs = {
        f"PressfuncsHelp{number}": f"    ' {chapter}\n" + "".join(map(_description, found))
        for number, (chapter, found) in enumerate(chapters.items(), start=1)
    }
    calls = "".join(f"    {name}\n" for name in subs)
    register = (
        "Public Sub PressfuncsRegister()\n"
        "    ' Run once after importing this module, then save: the function wizard keeps the texts.\n"
        f"{calls}End Sub\n"
    )
    return [register, *(f"Private Sub {name}()\n{body}End Sub\n" for name, body in subs.items())]


def _description(spec: FunctionSpec) -> str:
    texts = [literal(text) for text in help_of_arguments(spec).values()]
    head = f'    PressfuncsDescribe "{spec.sheet_name}", _\n        {literal(help_text(spec))}, _\n'
    return head + f"        {literal(category(spec))}, Array(" + ", _\n        ".join(texts) + ")\n"


def literal(text: str) -> str:
    """Return a text as VBA writes it; the editor reads plain ASCII only."""
    if not text.isascii() or "\n" in text:
        raise ValueError(f"not a line of plain ASCII: {text!r}")
    return '"' + text.replace('"', '""') + '"'


def _wrapped(line: str) -> str:
    """Break a statement at its commas where it is long; continued lines are set in."""
    parts = line.split(", ")
    lines, current = [], parts[0]
    for part in parts[1:]:
        if len(current) + len(part) > 110:
            lines.append(current + ", _")
            current = f"        {part}"
        else:
            current += f", {part}"
    return "\n".join([*lines, current])
