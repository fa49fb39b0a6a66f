"""The tokenizer of openpyxl, without the rest of openpyxl.

Importing any part of openpyxl imports all of it, and numpy with it, which takes longer than a small book. The
tokenizer is one file that needs nothing else, so this file alone is loaded, from where openpyxl is installed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl.formula.tokenizer import Token as XlToken
    from openpyxl.formula.tokenizer import Tokenizer, TokenizerError
else:
    from importlib.machinery import PathFinder
    from importlib.util import find_spec, module_from_spec
    from pathlib import Path

    def _alone():
        """Load the one file; by way of the whole package where that is no folder of files."""
        package = find_spec("openpyxl")
        places = [str(Path(place, "formula")) for place in package.submodule_search_locations] if package else []
        spec = PathFinder.find_spec("tokenizer", places)
        if spec is None:
            from openpyxl.formula import tokenizer

            return tokenizer
        module = module_from_spec(spec)
        spec.loader.exec_module(module)
        return module

    _tokenizer = _alone()
    Tokenizer, TokenizerError, XlToken = _tokenizer.Tokenizer, _tokenizer.TokenizerError, _tokenizer.Token

__all__ = ["Tokenizer", "TokenizerError", "XlToken"]
