"""The commands of the README on a bare Debian 12: what a used machine hides shows there.

``python -m tests.figures.bare_machine [--root DIR] [--with NAME=VALUE ...] [PYTEST'S WORDS ...]``
makes a root of `debootstrap`'s smallest kind with git and Python in it, clones what is committed
here into it and runs both commands there. It needs root and debootstrap, and says so where it may
not. It prints how each command ended, and ends with 1 if one failed. With `--root` the root is made
there, kept, and used again.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RELEASE = "bookworm"
PACKAGES = "ca-certificates,git,python3,python3-venv"
CERTIFICATES = "etc/ssl/certs/ca-certificates.crt"
HANDED_ON = re.compile(r"(PIP|UV)_(?!FIND_LINKS)\w+|(HTTPS?|NO)_PROXY|SSL_CERT_FILE", re.IGNORECASE)
"""What of the environment says where packages come from; the rest stays outside."""
WITHIN = """
set -e
mount --bind /dev "$0/dev"; mount --bind /sys "$0/sys"; mount -t proc proc "$0/proc"
mount -t tmpfs tmpfs "$0/dev/shm"
exec chroot "$0" env -i HOME=/root LANG=C.UTF-8 PATH=/usr/sbin:/usr/bin:/sbin:/bin "$@"
"""


def what_is_missing() -> str:
    """Why it may not be done here, or nothing."""
    if os.geteuid() != 0:
        return "only root may make a root of another system"
    missing = [name for name in ("debootstrap", "unshare", "apt-get") if not shutil.which(name)]
    return f"not installed: {', '.join(missing)}" if missing else ""


def mirror() -> str:
    """Where this machine takes Debian's packages from."""
    words = ["apt-get", "indextargets", "--format", "$(SITE)", f"Codename: {RELEASE}"]
    found = subprocess.run(words, capture_output=True, text=True, check=True).stdout.split()
    return found[0] if found else "http://deb.debian.org/debian"


def make(root: Path) -> None:
    """A bare root, unless there is one."""
    if not (root / "usr" / "bin" / "git").exists():
        words = ["debootstrap", "--variant=minbase", f"--include={PACKAGES}", RELEASE, str(root)]
        subprocess.run([*words, mirror()], check=True, stdout=sys.stderr)
    for name in ("etc/resolv.conf", CERTIFICATES):
        shutil.copy(Path("/") / name, root / name)
    place = root / "root" / "platestack"
    shutil.rmtree(place, ignore_errors=True)
    words = ["git", "-c", "safe.directory=*", "clone", "-q", str(ROOT), str(place)]
    subprocess.run(words, check=True)


def run(root: Path, command: str, settings: list[str]) -> tuple[int, float]:
    """A command in the root, in name spaces of its own; its exit code and seconds."""
    kept = [f"{name}={value}" for name, value in os.environ.items() if HANDED_ON.fullmatch(name)]
    kept.append(f"SSL_CERT_FILE=/{CERTIFICATES}")
    words = ["unshare", "--mount", "--pid", "--fork", "--kill-child", "sh", "-c", WITHIN, str(root)]
    inside = ["sh", "-c", f"cd /root/platestack && {command}"]
    start = time.perf_counter()
    done = subprocess.run([*words, *kept, *settings, *inside], stdin=subprocess.DEVNULL)
    return done.returncode, time.perf_counter() - start


def commands() -> list[str]:
    """The lines of the README that begin with `.ci/setup`."""
    text = (ROOT / "README.md").read_text("utf-8")
    return re.findall(r"^\.ci/setup .+$", text, re.M)


def main() -> int:
    """Make the root and run the commands in it."""
    parser = argparse.ArgumentParser(description=str(__doc__).split("\n", 1)[0])
    parser.add_argument("--root", type=Path, help="where to make it, or where it is")
    parser.add_argument("--with", nargs="*", default=[], dest="settings", help="environment there")
    parser.add_argument("words", nargs="*", help="further words for pytest")
    given = parser.parse_args()
    reason = what_is_missing()
    if reason:
        print(f"not tried: {reason}")
        return 0
    failed = 0
    with tempfile.TemporaryDirectory(prefix="bare-") as folder:
        root = given.root or Path(folder) / "root"
        make(root)
        for command in commands():
            words = [command, *given.words] if command.endswith("pytest") else [command]
            code, seconds = run(root, " ".join(words), given.settings)
            failed += code != 0
            print(f"{' '.join(words)}: exit code {code}, {seconds:.0f} s", flush=True)
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
