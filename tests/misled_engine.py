"""An engine made to get a function wrong, to see that the difference is noticed."""

from __future__ import annotations

from typing import Any

import pytest

from pressfuncs.batch.engine import Formualizer
from pressfuncs.batch.engine_formulon import Formulon


def mislead(
    monkeypatch: pytest.MonkeyPatch, name: str, other: str, engine: type[Formualizer | Formulon] = Formulon
) -> None:
    """Let an engine take one function for another."""
    adapt = engine.adapt

    def wrong(self: Any, template: Any) -> Any:
        tokens = tuple(
            type(token)(token.kind, token.subtype, other, token.ref) if token.text == name else token
            for token in adapt(self, template).tokens
        )
        return type(template)(tokens)

    monkeypatch.setattr(engine, "adapt", wrong)
