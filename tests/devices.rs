//! `benchcall devices`: what becomes of the certificate that paired devices see.

use super::support::{certificate_of_ones_own, err, out, program};
use std::fs;

/// What the page of the network does with a certificate is done in a terminal too.
#[test]
fn a_certificate_is_told_removed_and_replaced_without_a_page() {
    let settings = tempfile::tempdir().unwrap();
    let file = |name: &str| settings.path().join(name);
    let devices = |more: &[&str], succeeds: bool| {
        let mut devices = program();
        devices.env("BENCHCALL_SETTINGS", settings.path());
        let said = devices.arg("devices").args(more).output().unwrap();
        assert_eq!(said.status.success(), succeeds, "{}", err(&said));
        (out(&said), err(&said))
    };
    let (_, why) = devices(&["--forget-certificate"], false);
    assert!(why.contains("there is no certificate of your own"), "{why}");
    let (chain, key) = certificate_of_ones_own(5);
    fs::write(file("certificate.pem"), chain).unwrap();
    let (_, warned) = devices(&[], true);
    assert!(warned.contains("certificate.pem lies alone"), "{warned}");
    fs::write(file("key.pem"), key).unwrap();
    let (told, warned) = devices(&[], true);
    assert!(
        told.contains("Certificate: your own, good until "),
        "{told}"
    );
    assert!(warned.contains("Your certificate ends on "), "{warned}");
    devices(&["--forget-certificate"], true);
    assert!(!file("certificate.pem").exists() && !file("key.pem").exists());
    // That of the bench goes with its root.
    fs::write(file("certificate.json"), "{}").unwrap();
    let (_, told) = devices(&["--renew-certificate"], true);
    assert!(told.contains("remove the old root"), "{told}");
    assert!(!file("certificate.json").exists());
}
