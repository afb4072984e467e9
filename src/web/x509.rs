//! What a certificate says of itself: the DNS names it is good for, of which a server must know its own,
//! and when it ends.

use super::Error;
use super::certificate::failed;
use x509_parser::extensions::GeneralName;

/// What is read of it.
pub(super) struct Said {
    /// Without those that hold for many machines.
    pub(super) names: Vec<String>,
    /// In milliseconds since 1970 UTC.
    pub(super) ends_ms: i64,
}

/// Reads a certificate, DER.
///
/// # Errors
/// [`Error::Certificate`]: it is none, or damaged.
pub(super) fn said(der: &[u8]) -> Result<Said, Error> {
    let (_, certificate) = x509_parser::parse_x509_certificate(der).map_err(failed)?;
    let names = certificate.subject_alternative_name().map_err(failed)?;
    let names = names.map(|n| n.value.general_names.as_slice());
    let names = names.unwrap_or_default().iter().filter_map(|n| match n {
        GeneralName::DNSName(name) if !name.contains('*') => Some((*name).to_owned()),
        _ => None,
    });
    Ok(Said {
        names: names.collect(),
        ends_ms: certificate.validity().not_after.timestamp() * 1_000,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn names_are_found_and_what_is_cut_off_is_no_certificate() {
        let name = |n: usize| format!("{}.example", "a".repeat(n));
        let names: Vec<String> = (1..40).map(name).collect();
        let mut asked = names.clone();
        asked.extend(["*.example".to_owned(), "192.168.0.5".to_owned()]);
        let own = rcgen::generate_simple_self_signed(asked).unwrap();
        let der = own.cert.der();
        assert_eq!(said(der).unwrap().names, names);
        for end in 0..der.len() {
            assert!(said(&der[..end]).is_err(), "{end}");
        }
        let nameless = rcgen::generate_simple_self_signed(Vec::new()).unwrap();
        assert!(said(nameless.cert.der()).unwrap().names.is_empty());
    }

    #[test]
    fn the_end_is_read_in_both_forms_of_a_time() {
        // From 2050 on a certificate has the longer form (RFC 5280, section 4.1.2.5).
        for (year, month, day, text) in [
            (2031, 2, 28, "2031-02-28T00:00:00Z"),
            (2049, 12, 31, "2049-12-31T00:00:00Z"),
            (2050, 1, 1, "2050-01-01T00:00:00Z"),
        ] {
            let names = vec!["bench.example".to_owned()];
            let mut params = rcgen::CertificateParams::new(names).unwrap();
            params.not_after = rcgen::date_time_ymd(year, month, day);
            let key = rcgen::KeyPair::generate().unwrap();
            let own = params.self_signed(&key).unwrap();
            let expected: jiff::Timestamp = text.parse().unwrap();
            let ends_ms = said(own.der()).unwrap().ends_ms;
            assert_eq!(ends_ms, expected.as_millisecond(), "{text}");
        }
    }
}
