"""The library's interface: every name is there, documented, and loaded only when used."""

import inspect
import subprocess
import sys

import pytest

import analyser


@pytest.mark.parametrize("name", analyser.__all__)
def test_every_name_is_there_and_documented(name):
    found = getattr(analyser, name)
    doc = inspect.getdoc(found)
    assert doc
    assert "Parameters" in doc or "Attributes" in doc or inspect.isclass(found) or "Raises" in doc


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="nonsense"):
        _ = analyser.nonsense


def test_importing_the_package_costs_nothing():
    done = subprocess.run(
        [sys.executable, "-c", "import analyser, sys; print(sorted(m for m in sys.modules if 'numpy' in m))"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"


def test_the_palette_path_loads_little():
    """scikit-image, scipy, Pillow, rich and jinja2 each cost more than a palette of a small photo."""
    code = (
        "import sys; from analyser.colourway import photo_palette; import analyser.cli.palette; "
        "print(sorted({m.split('.')[0] for m in sys.modules} & "
        "{'skimage', 'scipy', 'PIL', 'rich', 'jinja2', 'openpyxl', 'colormath', 'pi_heif'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
