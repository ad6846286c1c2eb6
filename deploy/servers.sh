# Shared by deploy/test: finds or starts the servers that its legs need, and ends what it started.
# shellcheck shell=bash

servers_folder="$(mktemp -d "${TMPDIR:-/tmp}/kitchen-servers.XXXXXX")"
postgres_url=""
redis_url=""
postgres_stop=()
redis_pid=""

# As the superuser, PostgreSQL's programs refuse to run; as anybody else they run as they are.
as_postgres() {
    if [[ $EUID -eq 0 ]]; then
        setpriv --reuid=postgres --regid=postgres --clear-groups -- "$@"
    else
        "$@"
    fi
}

free_port() {
    "$python" -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}

install_package() {
    [[ $EUID -eq 0 ]] && command -v apt-get >/dev/null || return 1
    echo "Installing Debian's $*."
    apt-get install --yes --quiet=2 --no-install-recommends "$@" >/dev/null 2>&1 ||
        { apt-get update --quiet=2 >/dev/null 2>&1 && apt-get install --yes --quiet=2 --no-install-recommends "$@" >/dev/null 2>&1; }
}

postgres_programs() {
    local folder
    for folder in "$(dirname -- "$(command -v initdb || echo /nowhere/initdb)")" /usr/lib/postgresql/*/bin; do
        if [[ -x $folder/initdb && -x $folder/pg_ctl ]]; then
            printf '%s\n' "$folder"
        fi
    done | tail -n 1
}

# Sets postgres_url: to $KITCHEN_TEST_POSTGRES, to a server of our own in a folder that is thrown away, or to one on this
# machine that lets the user postgres in without a password.
find_postgres() {
    local programs port url
    if [[ -n ${KITCHEN_TEST_POSTGRES-} ]]; then
        postgres_url="$KITCHEN_TEST_POSTGRES"
        return 0
    fi
    programs="$(postgres_programs)"
    if [[ -z $programs ]] && install_package postgresql; then
        programs="$(postgres_programs)"
    fi
    if [[ -n $programs ]]; then
        port="$(free_port)"
        start_postgres "$programs" "$port" && return 0
    fi
    url="postgres://postgres@127.0.0.1:5432"
    if "$python" -c 'import sys, psycopg; psycopg.connect(sys.argv[1], connect_timeout=3)' "$url/postgres" 2>/dev/null; then
        postgres_url="$url/kitchen_$$"
        return 0
    fi
    return 1
}

# Without fsync: a power cut may spoil this server, and it does not matter.
start_postgres() {
    local programs="$1" port="$2" data="$servers_folder/postgres"
    mkdir "$data"
    chmod 711 "$servers_folder"
    if [[ $EUID -eq 0 ]]; then
        chown postgres "$data"
    fi
    as_postgres "$programs/initdb" --pgdata="$data/data" --username=postgres --auth=trust --encoding=UTF8 --locale=C \
        --no-sync >"$servers_folder/initdb.log" 2>&1 || return 1
    as_postgres "$programs/pg_ctl" --pgdata="$data/data" --log="$data/log" --wait --silent \
        --options="-h 127.0.0.1 -p $port -k '$data' -F -c max_connections=200" start || return 1
    postgres_stop=("$programs/pg_ctl" --pgdata="$data/data" --mode=immediate --silent stop)
    postgres_url="postgres://postgres@127.0.0.1:$port/kitchen"
}

# Sets redis_url: to $KITCHEN_TEST_REDIS, to a server of our own, or to the ninth database of one on this machine.
find_redis() {
    local port
    if [[ -n ${KITCHEN_TEST_REDIS-} ]]; then
        redis_url="$KITCHEN_TEST_REDIS"
        return 0
    fi
    if command -v redis-server >/dev/null || install_package redis-server; then
        port="$(free_port)"
        redis-server --bind 127.0.0.1 --port "$port" --save "" --appendonly no --dir "$servers_folder" \
            >"$servers_folder/redis.log" 2>&1 &
        redis_pid=$!
        redis_url="redis://127.0.0.1:$port/0"
        answers_redis "$redis_url" && return 0
    fi
    redis_url="redis://127.0.0.1:6379/9"
    answers_redis "$redis_url"
}

answers_redis() {
    "$python" - "$1" <<'END'
import sys
from redis import Redis
from redis.backoff import ConstantBackoff
from redis.exceptions import ConnectionError
from redis.retry import Retry

Redis.from_url(sys.argv[1], retry=Retry(ConstantBackoff(0.1), 50), retry_on_error=[ConnectionError]).ping()
END
}

stop_servers() {
    if [[ ${#postgres_stop[@]} -gt 0 ]]; then
        as_postgres "${postgres_stop[@]}" || true
    fi
    if [[ -n $redis_pid ]]; then
        kill "$redis_pid" 2>/dev/null || true
        wait "$redis_pid" 2>/dev/null || true
    fi
    rm -rf -- "$servers_folder"
}
