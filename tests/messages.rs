//! What the program says of bad input, word for word.

use std::path::Path;

#[test]
fn messages_say_what_was_wrong_and_what_would_have_been_accepted() {
    trycmd::TestCases::new()
        .register_bin("benchcall", Path::new(env!("CARGO_BIN_EXE_benchcall")))
        .env("NO_COLOR", "1")
        .case("tests/messages/*.trycmd");
}
