#!/bin/sh
# Makes target/debian/*.deb of the release build that is there. Needs cargo-deb, cargo-deny and
# cargo-cyclonedx.
set -eu
cd "$(dirname "$0")/.."

parts=target/package
rm -rf "$parts"
mkdir -p "$parts"
target/release/benchcall manual "$parts"
cp src/web/pages/icon.svg "$parts/benchcall.svg"
cargo deny --locked list --layout license >"$parts/licences-of-parts.txt"
# The bill of materials: every crate that is built in or builds one, with version, checksum and licence.
host=$(rustc -vV | sed -n 's/^host: //p')
cargo cyclonedx --quiet --format json --spec-version 1.5 --target "$host" \
    --override-filename benchcall.cdx
mv benchcall.cdx.json "$parts/"
# The weights do not get smaller, however long it takes.
cargo deb --no-build --locked --fast
