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

# The server of buckets (MIT) comes from the npm registry, once. No script of a package is run.
need_bucket_server() {
    # `venv` and `fail` are environment.sh's.
    # shellcheck disable=SC2154
    local folder="$venv/bucket-server"
    [ "$(cat "$folder/version" 2>/dev/null)" = "$bucket_server" ] && return
    say "fetching the server of buckets with npm"
    rm -rf "$folder"
    mkdir -p "$folder"
    (cd "$folder" && npm install --silent --no-save --no-audit --no-fund --ignore-scripts \
        --prefix "$folder" "$bucket_server" </dev/null >/dev/null) ||
        fail "npm could not fetch $bucket_server; its message stands above."
    printf '%s\n' "$bucket_server" >"$folder/version"
}
