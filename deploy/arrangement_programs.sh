# Sourced by arrangement.sh and test.sh, after environment.sh: programs that pip does not bring.
# shellcheck shell=bash

bucket_server=@20minutes/s3rver@5.0.0

need_arrangement_programs() {
    local missing=()
    command -v redis-server >/dev/null || missing+=(redis-server)
    # Debian keeps its programs beside, not on, the path.
    compgen -G "/usr/lib/postgresql/*/bin/initdb" >/dev/null || command -v initdb >/dev/null ||
        missing+=(postgresql)
    [ -x /usr/sbin/nginx ] || command -v nginx >/dev/null || missing+=(nginx-light)
    command -v npm >/dev/null || missing+=(npm)
    [ "${#missing[@]}" -eq 0 ] || apt_install "${missing[@]}" ||
        fail "this needs ${missing[*]}: sudo apt install ${missing[*]}"
}

# Usage: need_packages FOLDER WHAT PACKAGE...; in the environment's FOLDER, from the npm registry, once
# for each set of versions. No script of a package is run.
need_packages() {
    # `venv`, `say` and `fail` are environment.sh's.
    # shellcheck disable=SC2154
    local folder="$venv/$1" what="$2"
    shift 2
    [ "$(cat "$folder/versions" 2>/dev/null)" = "$*" ] && return
    say "fetching $what with npm"
    rm -rf "$folder"
    mkdir -p "$folder"
    (cd "$folder" && npm install --silent --no-save --no-audit --no-fund --ignore-scripts \
        --prefix "$folder" "$@" </dev/null >/dev/null) ||
        fail "npm could not fetch $*; its message stands above."
    printf '%s\n' "$*" >"$folder/versions"
}

# MIT.
need_bucket_server() { need_packages bucket-server "the server of buckets" "$bucket_server"; }
