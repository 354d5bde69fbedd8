"""Numbers of trees in words."""


def trees(number: int, one: str, several: str) -> str:
    """Return ``1 tree has`` or ``12 trees have``, given ``has`` and ``have``."""
    return f"1 tree {one}" if number == 1 else f"{number} trees {several}"
