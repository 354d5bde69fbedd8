"""The one place that knows where ``resources/`` and the sample farm lie.

Beside the package in a checkout, inside it in a wheel.
"""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_BESIDE_THE_FARM = ("elevation.tif", "picture.tif", "creek_bend_2016.jpg", "creek_bend_2026.jpg", "look_out_2026.jpg")


def resource_path(name: str) -> Path:
    """Path of a resource file.

    Parameters
    ----------
    name : str
        Path below ``resources/``, with forward slashes.

    Raises
    ------
    FileNotFoundError
        No such resource: the installation is incomplete.
    """
    return _first_there(_PACKAGE / "_resources" / name, _PACKAGE.parent / "resources" / name)


def sample_farm_path() -> Path:
    """Path of the invented sample farm; copy it before changing anything.

    Raises
    ------
    FileNotFoundError
        The installation is incomplete.
    """
    name = "pipit_downs.gpkg"
    return _first_there(_PACKAGE / "_sample_farm" / name, _PACKAGE.parent / "sample_farm" / name)


def sample_farm_files() -> tuple[Path, ...]:
    """Paths of the sample farm, of the pictures under its map and of its photographs, which belong into one folder.

    Raises
    ------
    FileNotFoundError
        The installation is incomplete.
    """
    farm = sample_farm_path()
    return farm, *(_first_there(farm.with_name(name)) for name in _BESIDE_THE_FARM)


def _first_there(*paths: Path) -> Path:
    for path in paths:
        if path.exists():
            return path
    raise FileNotFoundError(f"farmmap's own file {paths[-1].name} is missing; install farmmap again")
