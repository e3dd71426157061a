# Sourced by deploy/test.sh: what ends a command that hangs, and none that is only slow.
# shellcheck shell=bash

# A test that hangs ends itself before (timeout in pyproject.toml): this is for what is no test.
: "${silent_s:=1800}" "${patience_s:=60}"

# Usage: unless_silent LOG COMMAND...; the command's output is on its way to LOG.
#
# It may take as long as it likes while it prints, for a busy machine is slow, and that is no
# failure. Where nothing has been printed for `silent_s` it is interrupted, so that pytest still
# says what ran, and killed `patience_s` later. Exit code 124 then, or else the command's own.
unless_silent() (
    log="$1" size="" since=$SECONDS hung="" now=""
    shift
    # A process group of its own: its workers end with it, and an interrupt is not ignored.
    set -m
    "$@" &
    trap 'kill -INT -- "-$!"' INT TERM
    while kill -0 "$!" 2>/dev/null; do
        now="$({ wc -c <"$log"; } 2>/dev/null)"
        if [ "$now" != "$size" ]; then
            size="$now" since=$SECONDS
        elif [ $((SECONDS - since)) -ge "$silent_s" ]; then
            hung=yes
            printf 'Nothing was printed for %s s: it hangs, and is ended.\n' "$silent_s"
            kill -INT -- "-$!"
            sleep "$patience_s"
            kill -KILL -- "-$!" 2>/dev/null
        fi
        sleep 0.5
    done
    wait "$!" || code=$?
    [ -z "$hung" ] || exit 124
    exit "${code:-0}"
)
