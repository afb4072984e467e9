#!/bin/sh
# Makes target/debian/*.deb of the release build that is there. Needs cargo-deb and cargo-deny.
set -eu
cd "$(dirname "$0")/.."

parts=target/package
rm -rf "$parts"
mkdir -p "$parts"
target/release/benchcall manual "$parts"
cp src/web/pages/icon.svg "$parts/benchcall.svg"
cargo deny --locked list --layout license >"$parts/licences-of-parts.txt"
# The weights do not get smaller, however long it takes.
cargo deb --no-build --locked --fast
