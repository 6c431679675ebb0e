"""What holds for every test."""

from collections.abc import Iterator

import pytest
from hypothesis import settings

# Property tests have no clock: a busy machine is not a fault of the code. The checks of a change draw the same
# histories each time, so that they judge the change; `--hypothesis-profile search` draws new ones, and many more.
settings.register_profile("bench", deadline=None, derandomize=True)
settings.register_profile("search", max_examples=2000, deadline=None, derandomize=False, print_blob=True)
settings.load_profile("bench")


@pytest.fixture(scope="session", autouse=True)
def own_folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test writes into the folders of the person who runs it, nor reads what lies there."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
            patch.setenv(name, str(home / name))
        yield
