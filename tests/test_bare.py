"""offbook works where only what it asks for is installed: no developer's package is needed to run it."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from tests.shape import PACKAGE, modules

ROOT = PACKAGE.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def import_names(requirements: list[str]) -> set[str]:
    return {re.split(r"[<>=\[ ]", r)[0].replace("-", "_").lower() for r in requirements}


@pytest.mark.heavy
def test_every_module_imports_without_the_developers_packages(tmp_path: Path) -> None:
    needed = import_names(PROJECT["dependencies"])
    extra = import_names([r for group in PROJECT["optional-dependencies"].values() for r in group]) - needed
    names = [".".join(p.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__") for p in modules()]
    code = f"""
import importlib, sys
class Absent:
    def find_spec(self, name, path=None, target=None):
        if name.split('.')[0] in {sorted(extra | {"pytest", "tests"})}:
            raise ModuleNotFoundError(f'{{name}} is for developers')
sys.meta_path.insert(0, Absent())
for name in {[n for n in names if not n.endswith("__main__") and ".migrations." not in n]}:
    importlib.import_module(name)
print('ok')
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path)
    assert done.stdout.strip() == "ok", done.stderr[-2000:]


@pytest.mark.heavy
def test_the_wheel_contains_every_file_that_is_read_at_run_time(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    (wheel,) = tmp_path.glob("*.whl")
    held = set(zipfile.ZipFile(wheel).namelist())
    assert "offbook/data/models.toml" in held
    assert "offbook/py.typed" in held
    data = {
        str(p.relative_to(ROOT)) for p in PACKAGE.rglob("*") if p.is_file() and "__pycache__" not in p.parts
    }
    assert data <= held
    assert not any(name.startswith(("tests/", "bench/", "corpus_demo/")) for name in held)


def test_the_locked_requirements_name_every_dependency_with_its_hash() -> None:
    lock = (ROOT / "requirements.txt").read_text(encoding="utf-8")
    for name in import_names(PROJECT["dependencies"]):
        entry = re.search(rf"^{name.replace('_', '[-_]')}==.*?(?=^\S|\Z)", lock, re.M | re.S | re.I)
        assert entry and "--hash=sha256:" in entry.group(), f"{name} is not locked: run make lock"
