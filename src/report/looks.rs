//! What was looked at, as a record writes it: as it should be, or not. A record is read without the
//! job's language, and is not bound to the words that the voice can say.

/// Keys of the items, what is written if it is as it should be, and if it is not.
const WORDS: &[(&str, &str, &str)] = &[
    ("plugs", "plugs in", "plugs not in"),
    ("plugs_out", "plugs out", "plugs not out"),
    ("spring_square", "spring square", "spring not square"),
    (
        "jets",
        "jets and oil ways clear",
        "jets or oil ways blocked",
    ),
    ("dowels", "dowels in", "dowels missing"),
    ("marks", "marks in line", "marks not in line"),
    ("turns", "two turns free", "it stops when turned"),
    (
        "tensioner",
        "tensioner fitted and released",
        "tensioner not in",
    ),
    (
        "tensioner_locked",
        "tensioner locked",
        "tensioner not locked",
    ),
    ("tensioner_out", "tensioner out", "tensioner not out"),
    ("collets", "collets seated", "collets not seated"),
    ("leak_check", "no weep", "weeps"),
    ("oil_pressure", "oil pressure up", "no oil pressure"),
    ("oil_light", "oil light out", "oil light on"),
    ("rags_in", "rags put in", "rags not in"),
    ("rags_out", "rags out", "rags not out"),
    ("cold", "engine cold", "engine still warm"),
    ("warm", "engine warm", "engine not warm"),
    ("no_mark", "shim has no mark", "shim has a mark"),
    ("face_down", "mark of the shim down", "mark of the shim up"),
    ("in_spec", "called in band", "called out of band"),
    ("near_limit", "called on the limit", "called off the limit"),
    ("feels_loose", "feels loose", "does not feel loose"),
    ("feels_tight", "feels tight", "does not feel tight"),
    ("leave", "to be left alone", "not to be left alone"),
    ("comes_out", "shim to come out", "shim to stay in"),
    ("pitted", "pitted", "not pitted"),
    ("scored", "scored", "not scored"),
    ("lapped", "lapped", "not lapped"),
    ("contact", "contact in the middle", "contact off the middle"),
    ("contact_high", "contact high", "contact not high"),
    ("contact_low", "contact low", "contact not low"),
    ("lobe_away", "lobe points away", "lobe does not point away"),
    ("cams_out", "camshafts out", "camshafts not out"),
    ("bucket_tool", "bucket tool out", "bucket tool in"),
    ("kill_switch", "kill switch off", "kill switch on"),
    ("tick", "no tick", "ticks"),
    ("seals", "stem seals new", "stem seals not new"),
    ("gasket", "gasket new", "gasket not new"),
    (
        "threads",
        "threads oiled or dry as the manual says",
        "threads not done",
    ),
    (
        "pistons",
        "pistons away from the top",
        "a piston at the top",
    ),
    ("chain_guides", "chain guides good", "chain guides worn"),
    (
        "sprocket_bolts",
        "sprocket bolts tight",
        "sprocket bolts not tight",
    ),
    ("new_bolts", "bolts new", "bolts not new"),
    (
        "retorque",
        "bolts tightened again",
        "bolts not tightened again",
    ),
    ("idle", "idle", "no idle"),
    ("sealant", "sealant on", "no sealant"),
    ("half_moons", "half moons in", "half moons not in"),
    ("plug_seals", "plug seals in", "plug seals not in"),
    ("oil", "oil in", "no oil in"),
    ("coolant", "coolant in", "no coolant in"),
    (
        "decompressor_off",
        "decompressor held off",
        "decompressor on",
    ),
];

/// What was seen of an item, in words.
pub(super) fn look(item: &str, good: bool, count: Option<u16>) -> String {
    let known = WORDS.iter().find(|(key, ..)| *key == item);
    let words = match (known, good) {
        (Some((_, words, _)), true) | (Some((_, _, words)), false) => (*words).to_owned(),
        (None, true) => item.replace('_', " "),
        (None, false) => format!("{}: not as it should be", item.replace('_', " ")),
    };
    match (item, count) {
        (_, None) => words,
        ("leak_check", Some(minutes)) if good => format!("{words} for {minutes} min"),
        ("leak_check", Some(minutes)) => format!("{words} after {minutes} min"),
        ("idle", Some(rpm)) => format!("{words} at {rpm} rpm"),
        (_, Some(count)) => format!("{words}: {count}"),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_item_that_can_be_called_has_its_words() {
        let file = include_str!("../../grammars/en/readback.toml");
        let items = file.split("[readback.items]").nth(1).unwrap();
        let items = items.split("\n[").next().unwrap().lines();
        let keys = items.filter_map(|line| line.split_once(" = "));
        let keys: Vec<&str> = keys.map(|(key, _)| key).collect();
        assert!(keys.len() > 40, "{keys:?}");
        for key in keys {
            let key = key.trim_end_matches("_bad");
            let known = WORDS.iter().any(|(known, ..)| *known == key);
            assert!(known, "{key}");
        }
    }

    #[test]
    fn no_key_stands_in_a_record_for_its_meaning() {
        for (item, good, count, written) in [
            ("tick", true, None, "no tick"),
            ("tick", false, None, "ticks"),
            ("leak_check", true, Some(5), "no weep for 5 min"),
            ("leak_check", false, Some(2), "weeps after 2 min"),
            ("turns", false, None, "it stops when turned"),
            ("dowels", true, Some(2), "dowels in: 2"),
            ("idle", true, Some(1_100), "idle at 1100 rpm"),
            ("half_moons", true, None, "half moons in"),
            ("own_item", false, None, "own item: not as it should be"),
        ] {
            assert_eq!(look(item, good, count), written);
        }
    }
}
