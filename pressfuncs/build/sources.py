"""Generator of generated/sources.json from sources.toml: the same bibliography, readable on Python 3.9."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

PACKAGE = Path(__file__).parent.parent


def render() -> str:
    """Return the text of sources.json."""
    loaded = tomllib.loads((PACKAGE / "sources.toml").read_text(encoding="utf-8"))
    return json.dumps(loaded, indent=1, ensure_ascii=False) + "\n"
