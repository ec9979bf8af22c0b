"""Make the environment from the lock file; standard library only.

Called by the launcher when the environment is missing or the lock file changed.
"""

import ctypes.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[1]

# Shared libraries that the PDF writer loads -> Debian package.
LIBRARIES = {
    "pango-1.0": "libpango-1.0-0",
    "pangoft2-1.0": "libpangoft2-1.0-0",
    "harfbuzz-subset": "libharfbuzz-subset0",
}


def missing_packages() -> list[str]:
    """Debian packages that are needed and not there."""
    packages = [p for name, p in LIBRARIES.items() if ctypes.util.find_library(name) is None]
    if shutil.which("fc-match") is None:
        packages.append("fontconfig")
    try:
        import ensurepip  # noqa: F401  (Debian ships it apart)
    except ImportError:
        packages.append("python3-venv")
    return packages


def install_packages(packages: list[str]) -> None:
    """Install system packages when allowed, else say exactly what to run."""
    install = ["apt-get", "install", "-y", "--no-install-recommends", *packages]
    if shutil.which("apt-get") is None or os.geteuid() != 0:
        sys.exit(
            f"aftersit: these system libraries are missing: {', '.join(packages)} (names as in "
            f"Debian). Install them, on Debian or Ubuntu with\n\n    sudo {' '.join(install)}\n\n"
            "and start again."
        )
    say(f"installing system libraries: {', '.join(packages)}")
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    run(["apt-get", "update", "-q"], env=quiet)
    run(install, env=quiet)


def run(command: list[str], **options) -> None:
    """Run a command quietly; show what it said only when it fails."""
    done = subprocess.run(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, **options
    )
    if done.returncode:
        sys.exit(f"{done.stdout}\naftersit: this failed while setting up: {' '.join(command)}")


def say(text: str) -> None:
    """Tell the user what takes time."""
    print(f"aftersit: {text}", flush=True)


def make_environment(folder: Path) -> None:
    """A fresh virtual environment with exactly the locked packages."""
    say(f"making the environment in {folder} (once; a minute or two)")
    run([sys.executable, "-m", "venv", "--clear", str(folder)])
    pip = [str(folder / "bin" / "python"), "-m", "pip", "install", "--no-deps"]
    pip += ["--quiet", "--disable-pip-version-check"]
    run([*pip, "--require-hashes", "--requirement", str(REPOSITORY / "requirements.lock")])
    run([*pip, "--no-build-isolation", "--editable", str(REPOSITORY)])
    # Made once, not by each night: nights may not be allowed to write here.
    python = str(folder / "bin" / "python")
    run([python, "-m", "compileall", "-q", str(REPOSITORY / "workflow")])
    run([python, "-c", "from aftersit.pages.style import page_css; page_css('screen')"])


def main() -> None:
    """Set up everything into the folder given."""
    packages = missing_packages()
    if packages:
        install_packages(packages)
    make_environment(Path(sys.argv[1]))


if __name__ == "__main__":
    main()
