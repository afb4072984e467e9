//! The DNS names that a certificate is good for, of which a server must know its own.

/// The object identifier of the subject alternative name (RFC 5280, section 4.2.1.6), as DER.
const ALTERNATIVE: [u8; 5] = [0x06, 0x03, 0x55, 0x1d, 0x11];
/// A string of bytes, and a list.
const OCTETS: u8 = 0x04;
const SEQUENCE: u8 = 0x30;
/// A DNS name in that list.
const DNS: u8 = 0x82;

/// Its names, without those that hold for many machines.
pub(super) fn dns_names(der: &[u8]) -> Vec<String> {
    all(der).unwrap_or_default()
}

fn all(der: &[u8]) -> Option<Vec<String>> {
    let at = der.windows(5).position(|w| w == ALTERNATIVE)?;
    let (mut tag, mut value, rest) = element(der.get(at + 5..)?)?;
    if tag != OCTETS {
        (tag, value, _) = element(rest)?; // whether it is critical came first
    }
    let (list, mut names, _) = element(value)?;
    if (tag, list) != (OCTETS, SEQUENCE) {
        return None;
    }
    let mut found = Vec::new();
    while let Some((kind, name, rest)) = element(names) {
        names = rest;
        let name = std::str::from_utf8(name).ok().filter(|_| kind == DNS);
        found.extend(name.filter(|n| !n.contains('*')).map(str::to_owned));
    }
    Some(found)
}

/// The tag and content of the first element, and what follows it.
fn element(der: &[u8]) -> Option<(u8, &[u8], &[u8])> {
    let (tag, rest) = der.split_first()?;
    let (first, rest) = rest.split_first()?;
    let (length, rest) = match first {
        0..=0x7f => (usize::from(*first), rest),
        // The number of bytes that hold the length.
        0x81 | 0x82 => {
            let (bytes, rest) = rest.split_at_checked(usize::from(first - 0x80))?;
            let length = bytes.iter().fold(0, |sum, b| sum * 256 + usize::from(*b));
            (length, rest)
        }
        _ => return None,
    };
    let (value, rest) = rest.split_at_checked(length)?;
    Some((*tag, value, rest))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn names_are_found_and_what_is_cut_off_gives_none() {
        let name = |n: usize| format!("{}.example", "a".repeat(n));
        let names: Vec<String> = (1..40).map(name).collect();
        let own = rcgen::generate_simple_self_signed(names.clone()).unwrap();
        let der = own.cert.der();
        assert_eq!(dns_names(der), names);
        for end in 0..der.len() {
            assert!(dns_names(&der[..end]).len() <= names.len());
        }
    }
}
