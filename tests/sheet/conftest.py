"""A shipped procedure as text, so that one thing of it can be changed."""

import pytest

from aligner.shipped import folder


@pytest.fixture
def fm_text() -> str:
    """The FM front end."""
    return (folder("procedures") / "fm-varactor.toml").read_text(encoding="utf-8")
