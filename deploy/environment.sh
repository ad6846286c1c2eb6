# Shared by the scripts beside it: finds Python, makes .venv and installs one of the locked lists into it.
# shellcheck shell=bash

project="$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")/.." && pwd -P)"
venv="$project/.venv"
python="$venv/bin/python"

fail() {
    printf '%s\n' "$@" >&2
    exit 1
}

# A Python that is new enough. KITCHEN_PYTHON names one; otherwise the first that fits on the PATH.
find_python() {
    local candidate
    local -a candidates=(python3 python3.13 python3.12 python3.11)
    if [[ -n ${KITCHEN_PYTHON-} ]]; then
        candidates=("$KITCHEN_PYTHON")
    fi
    for candidate in "${candidates[@]}"; do
        if fits "$candidate"; then
            command -v -- "$candidate"
            return
        fi
    done
    fail "No Python 3.11 or newer was found (looked for ${candidates[*]})." \
        "Install one (Debian: apt install python3 python3-venv), or name it in KITCHEN_PYTHON."
}

fits() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

make_venv() {
    local base
    if [[ -f $venv/made ]] && fits "$python"; then
        return
    fi
    base="$(find_python)"
    "$base" -c 'import ensurepip, venv' 2>/dev/null ||
        fail "$base cannot make virtual environments." "Install the module (Debian: apt install python3-venv) and start again."
    echo "Making .venv with $("$base" --version)."
    "$base" -m venv --clear "$venv" || fail "$venv could not be made." "Read the message above."
    touch "$venv/made" # So that one that was interrupted is made anew.
}

# install_list NAME: what deploy/requirements/NAME.txt lists. Does nothing when the same list was installed before.
install_list() {
    local list="$project/deploy/requirements/$1.txt" stamp="$venv/installed-$1" digest
    make_venv
    digest="$(sha256sum <"$list")"
    if [[ ! -f $stamp || $(<"$stamp") != "$digest" ]]; then
        echo "Installing $1 requirements."
        "$python" -m pip install --quiet --no-input --disable-pip-version-check --root-user-action=ignore \
            --require-hashes --requirement "$list" ||
            fail "The requirements could not be installed." "Read the message above; the package registry must be reachable."
        stamp_lists "$1"
    fi
    # The program is found where it lies: nothing is built, and an edit works at once.
    printf '%s\n' "$project" >"$("$python" -c 'import sysconfig; print(sysconfig.get_path("purelib"))')/community_kitchen_planner.pth"
}

# The larger lists hold the smaller ones, with the same versions.
stamp_lists() {
    local name
    for name in base postgres dev; do
        sha256sum <"$project/deploy/requirements/$name.txt" >"$venv/installed-$name"
        if [[ $name == "$1" ]]; then
            return
        fi
    done
}
