"""Where the program's own files are: fonts, help, sample sites."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


def _folder(name: str) -> Path:
    for parent in (_PACKAGE, _PACKAGE.parent):  # an installed wheel, a checkout
        if (parent / name).is_dir():
            return parent / name
    raise FileNotFoundError(f"the folder {name} is missing from this installation")


def resource(*parts: str) -> Path:
    """A file or folder of the program's resources."""
    return _folder("resources").joinpath(*parts)


def sample_sites() -> dict[str, Path]:
    """Folder of every sample site that comes with the program, by name."""
    return {
        p.name: p for p in sorted(_folder("sample_sites").iterdir()) if (p / "site.json").is_file()
    }
