"""System libraries that Qt needs on Linux: which are missing, and what installs them."""

import os
import shutil
import subprocess
from pathlib import Path

PACKAGES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libGLX.so.0": "libglx0",
    "libICE.so.6": "libice6",
    "libOpenGL.so.0": "libopengl0",
    "libSM.so.6": "libsm6",
    "libX11-xcb.so.1": "libx11-xcb1",
    "libX11.so.6": "libx11-6",
    "libatomic.so.1": "libatomic1",
    "libbrotlidec.so.1": "libbrotli1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libdrm.so.2": "libdrm2",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgssapi_krb5.so.2": "libgssapi-krb5-2",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libwayland-client.so.0": "libwayland-client0",
    "libwayland-cursor.so.0": "libwayland-cursor0",
    "libwayland-egl.so.1": "libwayland-egl1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-glx.so.0": "libxcb-glx0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxcb.so.1": "libxcb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libz.so.1": "zlib1g",
    "libzstd.so.1": "libzstd1",
}
"""Package of Debian and Ubuntu that holds each library."""

USED = ("QtCore", "QtGui", "QtPrintSupport", "QtSvg", "QtWidgets")
"""Parts of Qt that farmmap uses."""


def see_to_libraries(folder: Path, *, on_screen: bool) -> str:
    """Install the libraries that Qt misses where that is allowed, else say how.

    Parameters
    ----------
    folder : Path
        Folder of the installed PySide6.
    on_screen : bool
        Whether windows are to be shown, if there is a screen.

    Returns
    -------
    str
        "" if nothing is missing any more, else what is missing and what to do.
    """
    missing = missing_libraries(files_to_load(folder, on_screen=on_screen))
    if not missing:
        return ""
    named = f"Qt misses these libraries of the system: {', '.join(missing)}."
    packages = sorted({PACKAGES[name] for name in missing if name in PACKAGES})
    if shutil.which("apt-get") is None or not packages:
        return f"{named}\nInstall the packages of your system that hold them, then start again."
    line = f"apt-get install -y {' '.join(packages)}"
    print(f"{named}\nThis installs them: {line}", flush=True)
    as_root = _as_root()
    if as_root is None:
        return f"{named}\nInstall them as the administrator (sudo), then start again:\n  sudo {line}"
    print("Installing them now ...", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run([*as_root, "apt-get", "update", "-q"], env=quiet, check=False)
    subprocess.run([*as_root, "apt-get", "install", "-y", "-q", *packages], env=quiet, check=False)
    still = missing_libraries(files_to_load(folder, on_screen=on_screen))
    if not still:
        return ""
    return f"Qt still misses {', '.join(still)}. Install what holds them, then start again:\n  {line}"


def files_to_load(folder: Path, *, on_screen: bool) -> list[Path]:
    """Return the files of Qt that farmmap loads, given the folder of the installed PySide6."""
    files = [path for part in USED for path in folder.glob(f"{part}.*.so")]
    platforms = folder / "Qt" / "plugins" / "platforms"
    files += platforms.glob("libqoffscreen.so")
    if on_screen and os.environ.get("DISPLAY"):
        files += platforms.glob("libqxcb.so")
    if on_screen and os.environ.get("WAYLAND_DISPLAY"):
        files += platforms.glob("libqwayland*.so")
    return files


def missing_libraries(files: list[Path]) -> list[str]:
    """Return the names of libraries that the system cannot find for these files, sorted."""
    ldd = shutil.which("ldd")
    if ldd is None or not files:
        return []
    told = subprocess.run([ldd, *map(str, files)], check=False, capture_output=True, text=True).stdout
    return sorted({line.split("=>")[0].strip() for line in told.splitlines() if "=> not found" in line})


def _as_root() -> list[str] | None:
    """Return what to put before a command so that it runs as the administrator; None if that is not to be had."""
    if os.geteuid() == 0:
        return []
    sudo = shutil.which("sudo")
    if sudo and subprocess.run([sudo, "-n", "true"], check=False, capture_output=True).returncode == 0:
        return [sudo, "-n"]
    return None
