"""LibreOffice Calc: the worksheet functions as an add-in in pure Python, made from the register.

These modules, and all they stand on, are carried by the extension `pressfuncs.oxt` and run inside the office,
on the Python that it brings along: the standard library only, from Python 3.9 on.
"""
