"""Where the notebooks and the blank logs are: in the checkout, or inside the installed package."""

from __future__ import annotations

from pathlib import Path

from rearkit.errors import RearkitError

PACKAGE = Path(__file__).resolve().parent


def folder_of(name: str) -> Path:
    """Find a folder that travels with the kit.

    Parameters
    ----------
    name : {"notebooks", "data_templates"}

    Returns
    -------
    Path
        In the checkout if the package lies in one, else inside the package.

    Raises
    ------
    RearkitError
        If the kit was installed without it.
    """
    beside = PACKAGE.parent
    inside = PACKAGE / "shipped" / name
    checkout = (beside / "pyproject.toml").is_file() and (beside / name).is_dir()
    folder = beside / name if checkout else inside
    if not folder.is_dir():
        raise RearkitError(
            f"the folder {name} did not come with this installation",
            where=str(PACKAGE),
            todo="Install rearkit again.",
        )
    return folder


def notebook_paths() -> dict[str, Path]:
    """Give the notebooks of the kit by name, in alphabetical order."""
    return {path.stem: path for path in sorted(folder_of("notebooks").glob("*.ipynb"))}


def template_paths() -> list[Path]:
    """List the blank log, the demo logs and the dictionary: files, and folders of CSV files."""
    return [
        path
        for path in sorted(folder_of("data_templates").iterdir())
        if path.suffix in {".xlsx", ".ods", ".md"} or (path.is_dir() and any(path.glob("*.csv")))
    ]
