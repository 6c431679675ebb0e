"""Run outside the tree by the installed program's own Python: every module can be imported, and the data came along."""

import importlib
import pkgutil

import aligner
from aligner import shipped

names = [found.name for found in pkgutil.walk_packages(aligner.__path__, "aligner.")]
for name in names:
    if name != "aligner.__main__":
        importlib.import_module(name)
procedures = sorted(shipped.folder("procedures").glob("*.toml"))
demonstrations = [path for path in shipped.folder("demo_data").rglob("*") if path.is_file()]
if "site-packages" not in str(shipped.folder("procedures")) or not procedures or not demonstrations:
    raise SystemExit("the installed package does not hold the procedures and the demonstration data")
print(f"{len(names)} modules, {len(procedures)} procedures, {len(demonstrations)} files of demonstration data")
