"""``python -m analyser`` is the command ``analyser``."""

from analyser.cli.start import run

if __name__ == "__main__":
    run()
