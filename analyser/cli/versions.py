"""What ``--version`` prints."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

from analyser import __version__

#: The distributions whose version can change an answer.
LIBRARIES = (
    "numpy",
    "opencv-python-headless",
    "pillow",
    "pi-heif",
    "scipy",
    "scikit-image",
    "colormath",
    "click",
    "pydantic",
    "openpyxl",
    "jinja2",
    "rich",
)


def versions() -> str:
    """The tool's version and those of its libraries, a line each."""
    lines = [f"analyser {__version__}", f"Python {platform.python_version()}"]
    for name in LIBRARIES:
        try:
            lines.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            lines.append(f"{name} not installed")
    return "\n".join(lines)
