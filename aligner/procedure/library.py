"""Which procedures there are: those that come with the program, and the person's own."""

from pathlib import Path

from aligner.errors import UsageError
from aligner.procedure.form import nearest
from aligner.shipped import folder
from aligner.text import clean

SUFFIX = ".toml"


def shipped() -> tuple[Path, ...]:
    """The files of the procedures that come with the program, by name."""
    return procedures_in(folder("procedures"))


def procedures_in(own_folder: Path) -> tuple[Path, ...]:
    """The procedure files of one folder, by name; none where there is no such folder."""
    if not own_folder.is_dir():
        return ()
    return tuple(sorted(path for path in own_folder.glob(f"*{SUFFIX}") if path.is_file()))


def find(name_or_path: str, own_folder: Path | None = None) -> Path:
    """The file of that path, or the procedure of that name: the person's own before one that comes with the program."""
    path = Path(name_or_path)
    if path.suffix == SUFFIX or len(path.parts) > 1:
        if path.is_file():
            return path
        raise UsageError(f'There is no procedure file "{clean(name_or_path)}"; check the path.')
    known = {file.stem: file for file in (*shipped(), *(procedures_in(own_folder) if own_folder else ()))}
    if name_or_path in known:
        return known[name_or_path]
    cure = nearest(name_or_path, sorted(known))
    raise UsageError(f'There is no procedure of the name "{clean(name_or_path, 60)}"; {cure}')
