# Sourced by sample_jobs/run.sh and tests/run.sh, which set `root` to the top of the repository first.
# prepare_environment EXTRA makes .venv there with the project and its dependencies; EXTRA is "" or "test".
# shellcheck shell=sh disable=SC2154

venv_python=$root/.venv/bin/python

say() { printf '%s\n' "$*" >&2; }

stop() {
    say "$@"
    exit 2
}

# Installs Debian packages when that needs no password; otherwise returns 1 and changes nothing.
install_packages() {
    command -v apt-get >/dev/null 2>&1 || return 1
    if [ "$(id -u)" -eq 0 ]; then
        as_root="env"
    elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
        as_root="sudo -n env"
    else
        return 1
    fi
    say "installing with apt-get: $*"
    packages_log=$(mktemp)
    # An update that fails for some other source must not stop the packages we need.
    if ! { $as_root DEBIAN_FRONTEND=noninteractive apt-get update -qq
        $as_root DEBIAN_FRONTEND=noninteractive apt-get install -qq -y --no-install-recommends "$@"
    } >"$packages_log" 2>&1 </dev/null; then
        cat "$packages_log" >&2
        rm -f "$packages_log"
        return 1
    fi
    rm -f "$packages_log"
}

find_python() {
    for name in python3 python3.11 python3.12 python3.13 python3.14; do
        if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            command -v "$name"
            return 0
        fi
    done
    return 1
}

make_venv() {
    python=$(find_python) || stop "Python 3.11 or newer is needed and was not found."
    if ! "$python" -m venv --clear "$root/.venv" >/dev/null 2>&1; then
        install_packages python3-venv ||
            stop "This Python cannot make virtual environments. Run: apt-get install python3-venv"
        "$python" -m venv --clear "$root/.venv" || stop "Could not make $root/.venv with $python."
    fi
}

# The path belongs to the stamp: a virtual environment that was moved or copied points at the old place.
install_project() {
    extra=$1
    stamp="$(cksum <"$root/pyproject.toml") $root"
    [ "$(cat "$root/.venv/place" 2>/dev/null)" = "$root" ] && "$venv_python" -c '' 2>/dev/null || make_venv
    printf '%s\n' "$root" >"$root/.venv/place"
    [ "$(cat "$root/.venv/installed-$extra" 2>/dev/null)" = "$stamp" ] && return 0
    say "installing the project into .venv"
    rm -f "$root/.venv/installed-" "$root/.venv/installed-$extra"
    "$venv_python" -m pip install -qq --disable-pip-version-check -e "$root${extra:+[$extra]}" </dev/null ||
        stop "pip could not install the project; its message is above."
    # An extra brings the bare project with it.
    printf '%s\n' "$stamp" | tee "$root/.venv/installed-" >"$root/.venv/installed-$extra"
}

has_fonts() {
    find /usr/share/fonts /usr/local/share/fonts "${HOME:-/nonexistent}/.fonts" "${HOME:-/nonexistent}/.local/share/fonts" \
        -name '*.[to]tf' 2>/dev/null | grep -q .
}

prepare_pdf_libraries() {
    libraries="libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
    if ! "$venv_python" -c 'import weasyprint' >/dev/null 2>&1; then
        # shellcheck disable=SC2086
        install_packages $libraries && "$venv_python" -c 'import weasyprint' >/dev/null 2>&1 || {
            "$venv_python" -c 'import weasyprint' 2>&1 | tail -n 3 >&2
            stop "The PDF report needs the Pango and HarfBuzz libraries. Run: apt-get install $libraries"
        }
    fi
    if command -v apt-get >/dev/null 2>&1 && ! has_fonts; then
        install_packages fonts-dejavu-core || say "No fonts were found; the PDF may be blank. Run: apt-get install fonts-dejavu-core"
    fi
}

prepare_environment() {
    install_project "$1"
    prepare_pdf_libraries
}
