//! What is said in a bench session: readings, shims, talk, notes, checks and corrections.

pub(crate) const LINES: [&str; 12] = [
    "three exhaust left fifteen goes eighteen wont",
    "one inlet right shim two sixty",
    "clearance again thirteen goes fifteen wont",
    "what a din",
    "two exhaust right again twenty goes twenty three wont",
    "note the bucket is scuffed",
    "correction eighteen goes twenty wont",
    "one inlet left shim two sixty",
    "affirm",
    "spare shim two sixty five",
    "head bolt seven stage two done",
    "stem two exhaust left five four six five",
];
