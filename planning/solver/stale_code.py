"""Machine code kept on disk from before a change of the files it was made of.

numba makes the code of a function anew when its own file has changed, but not when a file it calls
into has: after an upgrade in place, old rules would answer beside new ones.
"""

from pathlib import Path

MARK = b"@compiled"


def forget_stale_code(folder: Path) -> list[Path]:
    """Delete what was compiled before the newest change of any compiled file of a folder.

    Gives what was deleted. Looks where numba keeps code unless ``NUMBA_CACHE_DIR`` says otherwise:
    whoever sets that empties it with each upgrade.
    """
    sources = [file for file in folder.glob("*.py") if MARK in file.read_bytes()]
    newest = max((file.stat().st_mtime_ns for file in sources), default=0)
    kept = (folder / "__pycache__").glob("*.nb[ic]")
    stale = [file for file in kept if file.stat().st_mtime_ns < newest]
    for file in stale:
        file.unlink(missing_ok=True)
    return stale
