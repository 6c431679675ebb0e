"""Where the procedures and the invented demonstration data lie, in a checkout and in an installed package alike."""

from pathlib import Path
from typing import Literal

_PACKAGE = Path(__file__).resolve().parent


def folder(name: Literal["procedures", "demo_data"]) -> Path:
    """The folder of that name: inside the installed package, or beside the package in a checkout.

    The package's own place is asked, never the list of installed files: an editable install leaves a copy of the data
    among those, and it would grow old unseen.
    """
    for place in (_PACKAGE / "_shipped" / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"the folder {name} is neither inside {_PACKAGE} nor beside it: install the program again")
