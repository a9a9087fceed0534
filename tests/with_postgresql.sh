#!/bin/sh
# Runs a command with DATABASE_URL set to a PostgreSQL server: the one that is named already, or one started for this
# command on a free port, in a directory of its own, and stopped after it.
set -eu
if [ -n "${DATABASE_URL:-}" ]; then exec "$@"; fi
bin=$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -n 1)
[ -n "$bin" ] || bin=$(dirname "$(command -v initdb)")
home=$(mktemp -d)
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
as_owner() { if [ "$(id -u)" = 0 ]; then runuser -u postgres -- "$@"; else "$@"; fi; }
if [ "$(id -u)" = 0 ]; then chown postgres "$home"; fi
stop() { as_owner "$bin/pg_ctl" -D "$home/data" -m immediate stop >/dev/null 2>&1 || true; rm -rf "$home"; }
trap stop EXIT INT TERM
cd "$home"
as_owner "$bin/initdb" -D "$home/data" -U passagework -A trust --encoding UTF8 --locale C.UTF-8 >/dev/null
as_owner "$bin/pg_ctl" -D "$home/data" -w -l "$home/log" \
  -o "-c listen_addresses=127.0.0.1 -p $port -c unix_socket_directories=$home -c fsync=off -c max_connections=200" start >/dev/null
cd "$OLDPWD"
DATABASE_URL="postgres://passagework@127.0.0.1:$port/postgres" "$@"
