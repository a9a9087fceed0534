#!/bin/sh
# Sees to the system packages that tests need. As root on Debian they are installed; elsewhere they are asked for by name.
set -eu
missing=""
for need in "$@"; do
  case "$need" in
    chromium) command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null || missing="$missing chromium" ;;
    pdftoppm) command -v pdftoppm >/dev/null || missing="$missing poppler-utils" ;;
    postgresql) ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || command -v initdb >/dev/null || missing="$missing postgresql" ;;
  esac
done
[ -z "$missing" ] && exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
  echo "Installing$missing"
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null
else
  echo "The tests need these system packages:$missing" >&2
  echo "On Debian: sudo apt-get install$missing" >&2
  exit 1
fi
