#!/bin/sh
# Calls the compiler for this package's own code, with counters that live in a file (see coverage.rs).
exec "$@" -Cinstrument-coverage -Cllvm-args=-runtime-counter-relocation
