"""Served to a browser there is no terminal, and the screens run all the same."""

import pytest

from aligner import cli
from aligner.errors import UsageError


def test_the_drivers_of_a_browser_stand_in_for_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TEXTUAL_DRIVER", raising=False)
    with pytest.raises(UsageError):
        cli._demand_terminal()
    monkeypatch.setenv("TEXTUAL_DRIVER", "textual.drivers.web_driver:WebDriver")
    cli._demand_terminal()
