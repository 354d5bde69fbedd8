"""Locks: hashed, the same versions everywhere, none that is known to be broken, no place of this machine."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

CHECKOUT = Path(__file__).resolve().parents[2]
LOCKS = CHECKOUT / "packaging" / "locks"
NAMES = ("below_qt", "window", "benchmark", "test")
EXTRAS = {
    "below_qt": ("test",),
    "window": ("window", "build"),
    "benchmark": ("window", "build", "benchmark"),
    "test": ("window", "test", "check"),
}
PYTHONS = ("3.11", "3.12", "3.13")


def locked(name: str, python: str) -> dict[str, str]:
    """Versions of a lock for a Python on Linux, by package."""
    entries = re.findall(r"^(\S+)==(\S+)(?: ; (.+?))? \\$", (LOCKS / f"{name}.txt").read_text("utf-8"), re.MULTILINE)
    here = {
        "python_version": python, "python_full_version": f"{python}.0", "sys_platform": "linux", "os_name": "posix",
        "platform_python_implementation": "CPython", "implementation_name": "cpython", "platform_system": "Linux",
        "platform_machine": "x86_64",
    }  # fmt: skip
    return {package: version for package, version, marker in entries if not marker or Marker(marker).evaluate(here)}


def project() -> dict:
    return tomllib.loads((CHECKOUT / "pyproject.toml").read_text("utf-8"))["project"]


@pytest.mark.parametrize("name", NAMES)
def test_every_package_has_hashes(name):
    text = (LOCKS / f"{name}.txt").read_text("utf-8")
    entries = re.split(r"^(?=[a-z0-9])", text, flags=re.MULTILINE)[1:]
    assert len(entries) > 20
    assert all("--hash=sha256:" in entry for entry in entries)


@pytest.mark.parametrize("name", NAMES)
def test_no_address_and_no_place_is_named(name):
    text = (LOCKS / f"{name}.txt").read_text("utf-8")
    assert "://" not in text
    assert "index-url" not in text
    assert "find-links" not in text
    assert " @ " not in text


@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize("name", NAMES)
def test_lock_fits_pyproject(name, python):
    versions = locked(name, python)
    wanted = [*project()["dependencies"]]
    for extra in EXTRAS[name]:
        wanted += project()["optional-dependencies"][extra]
    for requirement in map(Requirement, wanted):
        package = canonicalize_name(requirement.name)
        assert package in versions, f"{package} is not locked; run packaging/lock.py"
        assert requirement.specifier.contains(versions[package])


@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize("name", ["below_qt", "window"])
def test_locks_agree(name, python):
    whole = locked("test", python)
    assert locked(name, python).items() <= whole.items()


@pytest.mark.parametrize("python", PYTHONS)
def test_what_is_measured_is_what_is_tested(python):
    whole, measured = locked("test", python), locked("benchmark", python)
    assert {name: measured[name] for name in whole.keys() & measured.keys()} == {
        name: whole[name] for name in whole.keys() & measured.keys()
    }


def test_no_qt_below_the_line():
    assert not [package for package in locked("below_qt", "3.11") if re.search("pyside|shiboken|qt", package)]


@pytest.mark.parametrize("name", ["window", "benchmark", "test"])
def test_the_pyside_release_that_aborts_is_kept_out(name):
    assert locked(name, "3.11")["pyside6-essentials"] != "6.12.0"
    wanted = [Requirement(text) for text in project()["optional-dependencies"]["window"]]
    pyside = next(requirement for requirement in wanted if requirement.name.startswith("PySide6"))
    assert not pyside.specifier.contains("6.12.0")
    assert pyside.specifier.contains("6.11.3")
