#!/bin/sh
# Gets a machine ready to build and run Benchcall: installs the system packages
# that are missing (Debian, Ubuntu), names them on other systems, and checks
# Rust and the model files. Changes nothing that is already in place.
#
#   ./setup.sh          what building and running need
#   ./setup.sh --test   also what the tests of live capture and of the pages need
set -eu

RUST_MINOR=92 # rust-version = "1.92" in Cargo.toml

# What each package is for: C++ compiler and make; cmake, libclang and clang's headers
# for the speech recogniser; ALSA headers for the microphone; a voice for words that
# the word bank lacks; certificates for fetching crates.
PACKAGES="build-essential cmake clang libclang-dev pkg-config libasound2-dev espeak-ng ca-certificates"
# A sound server for the live capture test, and ALSA's way into it.
# A browser for the tests of the pages, with a font, and curl for its accessibility checker.
TEST_PACKAGES="pulseaudio pulseaudio-utils libasound2-plugins chromium chromium-driver fonts-dejavu-core curl"
# The accessibility checker of the browser tests (MPL-2.0); only tests use it.
AXE_VERSION=4.14.1
AXE_SHA256=29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c

say() { printf 'setup: %s\n' "$*"; }
fail() {
    printf 'setup: %s\n' "$*" >&2
    exit 1
}
have() { command -v "$1" >/dev/null 2>&1; }

cd "$(dirname "$0")"

tests=no
for argument in "$@"; do
    case $argument in
    --test) tests=yes ;;
    -h | --help)
        sed -n '2,/^set -eu/{/^set -eu/d;s/^# \{0,1\}//;p;}' setup.sh
        exit 0
        ;;
    *) fail "unknown argument '$argument'; accepted: --test, --help" ;;
    esac
done
[ $tests = no ] || PACKAGES="$PACKAGES $TEST_PACKAGES"

installed() { [ "$(dpkg-query -W -f='${db:Status-Status}' "$1" 2>/dev/null)" = installed ]; }

as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif have sudo; then
        sudo "$@"
    else
        fail "neither root nor sudo. As root, run:  apt-get update && apt-get install$missing"
    fi
}

system_packages_apt() {
    missing=
    for package in $PACKAGES; do
        installed "$package" || missing="$missing $package"
    done
    if [ -z "$missing" ]; then
        say "system packages: all there"
        return
    fi
    say "installing:$missing"
    as_root apt-get update -q
    # shellcheck disable=SC2086 # a list of words on purpose
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing ||
        fail "apt-get could not install:$missing"
}

# Elsewhere nothing is installed; what is missing is named. Package names from memory.
system_packages_elsewhere() {
    missing=
    for tool in c++ cmake clang; do
        have "$tool" || missing="$missing $tool"
    done
    if [ "$(uname -s)" = Linux ]; then
        if ! have pkg-config; then
            missing="$missing pkg-config"
        elif ! pkg-config --exists alsa; then
            missing="$missing alsa-headers"
        fi
    fi
    if [ -z "$missing" ]; then
        say "system packages: a compiler, cmake, clang and sound headers are there"
        return
    fi
    say "missing:$missing"
    if have dnf; then
        say "install: dnf install gcc-c++ make cmake clang clang-devel pkgconf-pkg-config alsa-lib-devel espeak-ng"
        [ $tests = no ] || say "and for the live capture test: a PulseAudio server, pulseaudio-utils, alsa-plugins-pulseaudio"
    elif have pacman; then
        say "install: pacman -S --needed base-devel cmake clang pkgconf alsa-lib espeak-ng"
        [ $tests = no ] || say "and for the live capture test: pulseaudio libpulse alsa-plugins"
    elif have zypper; then
        say "install: zypper install gcc-c++ make cmake clang clang-devel pkgconf alsa-devel espeak-ng"
        [ $tests = no ] || say "and for the live capture test: pulseaudio pulseaudio-utils alsa-plugins-pulse"
    elif have brew || [ "$(uname -s)" = Darwin ]; then
        say "install: xcode-select --install, then brew install cmake llvm espeak-ng"
        [ $tests = no ] || say "the live capture test needs a PulseAudio server and is skipped here"
    else
        say "install: a C++ compiler with make, cmake, clang with libclang, pkg-config, the ALSA headers, espeak-ng"
    fi
    fail "then run ./setup.sh again"
}

# A toolchain is the user's choice, and one installed here would not be on the path of the
# shell that called us: so it is only checked.
rust() {
    if ! have cargo; then
        if [ -x "${CARGO_HOME:-$HOME/.cargo}/bin/cargo" ]; then
            fail "Rust is installed but not on the path. Run:  . \"${CARGO_HOME:-$HOME/.cargo}/env\"  and then this line again"
        fi
        say "Rust is missing: this needs cargo and rustc 1.$RUST_MINOR or later."
        if have apt-cache && apt-cache show rustup >/dev/null 2>&1; then
            say "Run:  apt-get install rustup && rustup default stable"
        else
            say "Run the installer of rustup.rs, then this line again:"
            have curl || say "  (curl first: apt-get install curl)"
            say "  curl --proto '=https' --tlsv1.2 -sSf https://sh.rustup.rs | sh -s -- -y && . \"\$HOME/.cargo/env\""
        fi
        exit 1
    fi
    version=$(cargo --version | cut -d' ' -f2)
    major=${version%%.*}
    rest=${version#*.}
    minor=${rest%%.*}
    if [ "$major" -eq 1 ] && [ "$minor" -lt $RUST_MINOR ]; then
        say "cargo is $version; 1.$RUST_MINOR or later is needed."
        if have rustup; then
            fail "Run:  rustup update stable && rustup default stable"
        fi
        fail "Remove the system's cargo and rustc packages and install through rustup.rs"
    fi
    say "Rust: cargo $version"
}

# Every model that models/manifest.toml says ships is there with its size; the program itself
# checks the SHA-256 when it loads one.
models() {
    [ -f models/manifest.toml ] || fail "models/manifest.toml is missing: this copy of Benchcall is incomplete, clone it again"
    awk -F' *= *' '
        function row() { if (file != "" && ships) print bytes, file }
        { gsub(/\r/, ""); sub(/[ \t]+#.*$/, "") }
        /^\[\[/ { row(); file = ""; bytes = 0; ships = 1 }
        $1 == "ships" && $2 == "false" { ships = 0 }
        $1 == "file" { file = $2; gsub(/"/, "", file) }
        $1 == "bytes" { bytes = $2; gsub(/_/, "", bytes) }
        END { row() }
    ' models/manifest.toml | {
        count=0
        while read -r bytes file; do
            [ -f "models/$file" ] || fail "models/$file is missing: restore it with  git checkout -- models"
            size=$(($(wc -c <"models/$file")))
            [ "$size" -eq "$bytes" ] ||
                fail "models/$file has $size bytes instead of $bytes: restore it with  git checkout -- models"
            count=$((count + 1))
        done
        [ $count -gt 0 ] || fail "models/manifest.toml names no model: this copy of Benchcall is incomplete, clone it again"
        say "models: $count in place"
    }
}

# axe-core from the npm registry, into .tools, which git ignores.
axe() {
    file=.tools/axe-core-$AXE_VERSION.min.js
    if [ -f "$file" ] && printf '%s  %s\n' "$AXE_SHA256" "$file" | sha256sum -c --quiet - 2>/dev/null; then
        say "axe-core: $AXE_VERSION"
        return
    fi
    mkdir -p .tools
    curl -sSfL "https://registry.npmjs.org/axe-core/-/axe-core-$AXE_VERSION.tgz" |
        tar -xzO package/axe.min.js >"$file.part" || fail "axe-core could not be fetched from registry.npmjs.org"
    printf '%s  %s\n' "$AXE_SHA256" "$file.part" | sha256sum -c --quiet - ||
        fail "axe-core is not what was expected; nothing of it is used"
    mv "$file.part" "$file"
    say "axe-core: $AXE_VERSION, fetched"
}

if have apt-get && have dpkg-query; then
    system_packages_apt
else
    system_packages_elsewhere
fi
models
[ $tests = no ] || ! have apt-get || axe
rust
say "ready"
