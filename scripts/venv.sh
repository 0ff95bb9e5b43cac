#!/usr/bin/env bash
# Makes .venv with the locked dependencies and the package itself, editable.
# Needs Python 3.11 or newer; PYTHON=... names one, otherwise the newest fit one on PATH is found.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

fit='import sys; sys.exit(sys.version_info < (3, 11))'

# A name on PATH proves little (version managers leave launchers for versions that are gone), so run it.
find_python() {
  local name
  for name in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do
    if "$name" -c "$fit" >/dev/null 2>&1; then
      command -v "$name"
      return
    fi
  done
  return 1
}

if ! python=$(find_python); then
  {
    echo "bondwright needs Python 3.11 or newer."
    echo "Found: $("${PYTHON:-python3}" --version 2>/dev/null || echo "no ${PYTHON:-python3} that runs")"
    echo "Install it, or name one: make setup PYTHON=/path/to/python3.12"
  } >&2
  exit 1
fi

make_venv() { "$python" -m venv --clear .venv; }

if ! .venv/bin/python -c "$fit" >/dev/null 2>&1 || ! .venv/bin/python -m pip --version >/dev/null 2>&1; then
  echo "Making .venv with $("$python" --version) ($python)"
  if ! message=$(make_venv 2>&1); then
    # Debian and Ubuntu ship venv's parts separately.
    package="python$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')-venv"
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
      echo "Installing $package"
      apt-get update -qq
      DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$package"
      make_venv
    else
      printf '%s\n' "$message" >&2
      echo "Python could not make a virtual environment. On Debian or Ubuntu: sudo apt-get install $package" >&2
      exit 1
    fi
  fi
fi

# uv installs the rest; its own version and hashes are those of the lock, like everything's.
uv=.venv/bin/uv
pinned=$(sed -n '/^uv==/,/^[^ ]/{/^uv==/p;/^ .*--hash/p}' requirements.lock)
wanted=$(sed -n 's/^uv==\([^ ]*\).*/\1/p' <<<"$pinned")
if [ "$("$uv" --version 2>/dev/null | cut -d' ' -f2)" != "$wanted" ]; then
  .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes \
    -r <(printf '%s\n' "$pinned")
fi

# uv brings certificates of its own; a network with a gateway needs those the machine was given.
options=(--quiet --python .venv/bin/python)
for bundle in /etc/ssl/certs/ca-certificates.crt /etc/pki/tls/certs/ca-bundle.crt; do
  if [ -s "$bundle" ]; then options+=(--system-certs); break; fi
done
echo "Installing the locked packages (a few minutes the first time)"
"$uv" pip install "${options[@]}" --require-hashes -r requirements.lock
# What builds the package is locked too: nothing is fetched for it by itself.
"$uv" pip install "${options[@]}" --no-deps --no-build-isolation --editable .
