"""Where this Corallite was installed from, as an address that another computer can install it from too."""

import json
import subprocess
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, distribution
from urllib.parse import unquote, urlsplit


def installed_from() -> str:
    """An address for pip: `corallite @ git+URL@COMMIT`. "" if it came from this computer only."""
    with suppress(PackageNotFoundError, ValueError, OSError):
        told = json.loads(distribution("corallite").read_text("direct_url.json") or "{}")
        if "vcs_info" in told:
            return _address(told["url"], told["vcs_info"]["commit_id"])
        if urlsplit(told.get("url", "")).scheme == "file":
            checkout = unquote(urlsplit(told["url"]).path)
            return _address(_git(checkout, "remote", "get-url", "origin"), _git(checkout, "rev-parse", "HEAD"))
    return ""


def _address(url: str, commit: str) -> str:
    return f"corallite @ git+{url}@{commit}" if urlsplit(url).scheme == "https" and commit else ""


def _git(folder: str, *words: str) -> str:
    call = ["git", "-C", folder, *words]
    done = subprocess.run(call, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    return done.stdout.strip() if done.returncode == 0 else ""
