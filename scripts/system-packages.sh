#!/usr/bin/env bash
# Makes sure that the programs the tests need are there: ngspice (an independent circuit solver),
# Chromium (to look at the pages) and the PostgreSQL server (to keep jobs in). Present: goes on. Root
# with apt-get: installs them. Otherwise says what to install; the tests that need them are then
# skipped, or fail when CI=true.
set -euo pipefail

missing=()
command -v ngspice >/dev/null || missing+=(ngspice)
command -v chromium >/dev/null || command -v chromium-browser >/dev/null || missing+=(chromium)
# Debian keeps the server's programs off PATH.
server=("${POSTGRESQL_HOMES:-/usr/lib/postgresql}"/*/bin/initdb)
command -v initdb >/dev/null || [ -x "${server[0]}" ] || missing+=(postgresql)
[ ${#missing[@]} -eq 0 ] && exit 0

if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
  echo "Installing ${missing[*]}"
  if apt-get update -qq &&
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}"; then
    exit 0
  fi
fi

cat >&2 <<NOTICE

************************************************************************
  NOT INSTALLED: ${missing[*]}
  Tests that need them will be SKIPPED, and so will prove nothing.
  On Debian or Ubuntu: sudo apt-get install ${missing[*]}
************************************************************************

NOTICE
if [ "${CI:-}" = true ]; then exit 1; fi
