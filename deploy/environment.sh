# Sourced by run.sh and test.sh: one environment in the checkout, made once, used again.
#
# The client library and the application are installed in place (editable), so that what runs is
# the checkout; pip runs again only when a pyproject.toml, the extras or the Python have changed,
# which a stamp tells.
# shellcheck shell=bash

root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
venv="$root/.venv"

say() { printf 'ricalco: %s\n' "$*" >&2; }

fail() {
    say "$@"
    exit 3
}

is_root() { [ "$(id -u)" -eq 0 ]; }

# Usage: apt_install PACKAGE...
apt_install() {
    is_root && command -v apt-get >/dev/null || return 1
    say "installing $* with apt-get"
    DEBIAN_FRONTEND=noninteractive apt-get update -q </dev/null >/dev/null &&
        DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "$@" \
            </dev/null >/dev/null
}

new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }

find_python() {
    local name
    for name in python3 python3.13 python3.12 python3.11; do
        if command -v "$name" >/dev/null && new_enough "$name"; then
            command -v "$name"
            return
        fi
    done
    return 1
}

make_venv() {
    local python="$1" version
    "$python" -m venv --clear "$venv" >/dev/null 2>&1 && return
    # Debian keeps the part of venv that brings pip in a package of its own.
    version="$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')"
    apt_install "python$version-venv" || apt_install python3-venv ||
        fail "this Python cannot make environments. Install it: sudo apt install python3-venv"
    "$python" -m venv --clear "$venv" >/dev/null ||
        fail "the environment $venv cannot be made: is the folder writable?"
}

# Usage: stamp EXTRAS; what the environment was made from.
stamp() {
    "$venv/bin/python" - "$root" "$1" <<'PYTHON'
import hashlib
import pathlib
import sys

root, extras = sys.argv[1:]
projects = [pathlib.Path(root, one, "pyproject.toml").read_bytes() for one in ("", "client")]
print(hashlib.sha256(b"".join(projects)).hexdigest(), sys.version.split()[0], root, extras)
PYTHON
}

# Usage: prepare EXTRAS; EXTRAS is empty or [test]. Leaves a working environment in $venv.
prepare() {
    local extras="$1" python wanted
    if ! "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        python="$(find_python)" || {
            apt_install python3 python3-venv || true
            python="$(find_python)" ||
                fail "Python 3.11 or newer is missing. Install it: sudo apt install python3 python3-venv"
        }
        make_venv "$python"
    fi
    wanted="$(stamp "$extras")"
    # An environment with the tests' packages has the program's own as well.
    grep -qxF -e "$wanted" -e "$(stamp '[test]')" "$venv/.ricalco-stamp" 2>/dev/null && return
    say "preparing $venv (the first time takes a minute or two)"
    "$venv/bin/python" -m pip install -qq --disable-pip-version-check --no-input \
        --root-user-action=ignore -e "$root/client" -e "$root$extras" </dev/null >&2 ||
        fail "pip could not install what Ricalco needs; its message stands above."
    printf '%s\n' "$wanted" >"$venv/.ricalco-stamp"
}

# Two starts at once would both fill the same folder; the second waits for the first.
prepare_alone() {
    if command -v flock >/dev/null; then
        # The folder itself is locked, so that no lock file is left lying in it.
        exec 9<"$root"
        flock 9
        prepare "$1"
        exec 9>&-
    else
        prepare "$1"
    fi
}
