//! German phrases of the bench and what they mean: one line each.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::{assert_means, show, triple};
use crate::grammar::*;
use crate::measure::{LengthUnit, Quantity};
use std::collections::BTreeSet;
use std::sync::LazyLock;

macro_rules! file {
    ($name:literal) => {
        ($name, include_str!(concat!("../../../grammars/de/", $name)))
    };
}

/// The shipped German grammar, read once.
pub(super) fn german() -> Grammar {
    static GERMAN: LazyLock<Grammar> = LazyLock::new(read_german);
    GERMAN.clone()
}

fn read_german() -> Grammar {
    Grammar::from_files(&[
        file!("numbers.toml"),
        file!("positions.toml"),
        file!("phrases.toml"),
        file!("inspect.toml"),
        file!("job.toml"),
        file!("commands.toml"),
        file!("readback.toml"),
    ])
    .unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn phrases_in_a_millimetre_job() {
    let count = assert_means(&german(), PHRASES);
    assert!(count >= 120, "{count}");
}

/// Fillers, links, slips and two readings in a breath are kinds of word in German too; a reading
/// among other words is found and asked. Own sentences; common practice, no source.
#[test]
fn german_in_free_order() {
    let (grammar, scope) = (german(), triple(LengthUnit::Millimetre));
    for (text, expected) in [
        (
            "Also drei Auslass links ist zweiundzwanzig",
            "3 ex left =220",
        ),
        (
            "okay zwei Einlass rechts, fünfzehn geht, achtzehn nein",
            "2 in right 150..180",
        ),
        (
            "äh eins Einlass links sagen wir dreizehn bitte",
            "1 in left =130",
        ),
        (
            "eins Einlass links zehn geht, zwölf geht, dreizehn geht nicht",
            "1 in left 120..130",
        ),
        ("fünfundzwanzig an zwei Auslass links", "2 ex left =250"),
        (
            "zwei Einlass links achtzehn, nein Moment, fünfzehn geht, achtzehn nicht",
            "2 in left 150..180",
        ),
        (
            "zwei Auslass links, Quatsch, zwei Auslass rechts, fünfundzwanzig",
            "2 ex right =250",
        ),
    ] {
        assert_eq!(show(&grammar.parse(text, &scope)), expected, "{text}");
    }
    for (text, gist) in [
        (
            "Leute zwei Einlass links hat wohl fünfzehn",
            Some("2 in left =150"),
        ),
        ("zwei Einlass links geht kaum fünfzehn", None),
    ] {
        let found = grammar.gist(text, &scope).map(|heard| show(&heard));
        assert_eq!(found.as_deref(), gist, "{text}");
    }
}

/// Every number from 21 to 99, written together, apart, and without umlauts, is that number: the
/// expectation is made here, tens first, and not by the grammar.
#[test]
fn units_stand_before_tens() {
    let units = [
        "ein", "zwei", "drei", "vier", "fünf", "sechs", "sieben", "acht", "neun",
    ];
    let tens = [
        "zwanzig", "dreißig", "vierzig", "fünfzig", "sechzig", "siebzig", "achtzig", "neunzig",
    ];
    let (grammar, scope) = (german(), triple(LengthUnit::Millimetre));
    for (t, ten) in tens.iter().enumerate() {
        for (u, unit) in units.iter().enumerate() {
            let expected = format!("shim 2{}{}0/", t + 2, u + 1);
            let plain = |word: &str| word.replace('ü', "ue").replace('ß', "ss");
            for said in [
                format!("{unit}und{ten}"),
                format!("{unit} und {ten}"),
                plain(&format!("{unit}und{ten}")),
            ] {
                for text in [
                    format!("Plättchen zwei {said}"),
                    format!("Plättchen zweihundert{said}"),
                    format!("Plättchen zwei Komma {said}"),
                ] {
                    assert_eq!(show(&grammar.parse(&text, &scope)), expected, "{text}");
                }
            }
        }
    }
}

#[test]
fn phrases_in_a_thou_job() {
    let grammar = german();
    let scope = triple(LengthUnit::Thou);
    for (text, expected) in [
        ("drei Auslass links acht", "3 ex left =203"),
        ("sechs geht, acht geht nicht", "152..203"),
        (
            "drei Auslass links null Komma zwei fünf Millimeter",
            "3 ex left =250",
        ),
        // a tenth is 0.1 mm, whatever the unit of the job
        ("drei Auslass links zwei Zehntel", "3 ex left =200"),
        (
            "drei Auslass links Plättchen zwei fünfundsechzig",
            "3 ex left shim 2650/",
        ),
    ] {
        assert_eq!(show(&grammar.parse(text, &scope)), expected, "{text}");
    }
}

/// What English can mean and say, German can: a key that is added to one is missed in the other.
#[test]
fn german_lacks_nothing_that_english_has() {
    let (de, en) = (german(), tests::english());
    assert_eq!(de.meanings(), en.meanings());
    let quantities = |g: &Grammar| -> BTreeSet<Option<Quantity>> {
        g.phrases.iter().map(|p| p.quantity).collect()
    };
    assert_eq!(quantities(&de), quantities(&en));
    let stages = |g: &Grammar| -> Vec<(String, usize)> {
        let stages = g.stages.iter();
        stages.map(|s| (s.key.clone(), s.cautions.len())).collect()
    };
    assert_eq!(stages(&de), stages(&en));
    let keys = |w: &Wording| -> Vec<Vec<String>> {
        let tables = [
            &w.places,
            &w.answers,
            &w.quantities,
            &w.pairs,
            &w.units,
            &w.parts,
            &w.items,
            &w.counts,
            &w.tasks,
        ];
        let keys = |t: &BTreeMap<String, String>| t.keys().cloned().collect();
        tables.map(keys).to_vec()
    };
    assert_eq!(keys(&de.wording), keys(&en.wording));
}

/// Whatever can be looked at, put off or begun is read back in words, and those are understood.
#[test]
fn every_item_comes_back() {
    let (grammar, scope) = (german(), triple(LengthUnit::Millimetre));
    for (key, words) in &grammar.wording.items {
        let counted = ["dowels", "rags_in", "idle"].contains(&key.as_str());
        let text = if counted {
            format!("{words} vier")
        } else {
            words.clone()
        };
        let Heard::Accepted(said) = grammar.parse(&text, &scope) else {
            panic!("\"{text}\" is not understood");
        };
        let Meaning::Check { items, good, .. } = said.meaning else {
            panic!("\"{text}\" is not a check");
        };
        let [(item, _)] = &items[..] else {
            panic!("\"{text}\" is several");
        };
        let (expected, bad) = key
            .strip_suffix("_bad")
            .map_or((key.as_str(), false), |k| (k, true));
        assert_eq!((item.as_str(), good), (expected, !bad), "{text}");
    }
    for stage in &grammar.stages {
        assert!(
            !stage.cautions.is_empty() && !stage.name("screw").is_empty(),
            "{}",
            stage.key
        );
    }
}

#[test]
fn a_count_that_runs_on_into_the_size_is_doubted() {
    let (grammar, scope) = (german(), triple(LengthUnit::Millimetre));
    for (text, doubted) in [
        ("drei zwei sechzig in der Kiste", true),
        ("drei Stück zwei sechzig in der Kiste", false),
    ] {
        let Heard::Accepted(said) = grammar.parse(text, &scope) else {
            panic!("{text}");
        };
        assert!(
            matches!(said.meaning, Meaning::Spare { unusual, .. } if unusual == doubted),
            "{text}"
        );
    }
}

#[test]
fn umlauts_may_come_as_letters_and_dots() {
    let grammar = german();
    assert_eq!(
        grammar.words_of("Fu\u{308}nf PLA\u{308}TTCHEN"),
        ["fünf", "plättchen"]
    );
    assert_eq!(
        grammar.words_of("Zylinder 3, Auslass links: 0,15."),
        grammar.words_of("zylinder drei auslass links null komma eins fünf")
    );
}

/// What the words mean is common practice, no source.
const PHRASES: &str = r#"
Zylinder drei Auslass links, null Komma zwei fünf => 3 ex left =250
Zylinder drei Auslass, null Komma zwei fünf => 3 ex =250
drei Auslass links fünfzehn geht achtzehn geht nicht => 3 ex left 150..180
drei Auslass links, fünfzehn geht, achtzehn nicht => 3 ex left 150..180
drei Auslass links 0,15 geht 0,18 geht nicht => 3 ex left 150..180
Zylinder 3 Auslass links 15 geht 18 geht nicht => 3 ex left 150..180
fünfzehn rein achtzehn nicht rein => 150..180
fünfzehn passt, achtzehn passt nicht => 150..180
fünfzehn geht durch aber achtzehn geht nicht durch => 150..180
fünfzehn geht und achtzehn klemmt => 150..180
achtzehn geht nicht, fünfzehn geht => 150..180
bei fünfzehn geht es, bei achtzehn nicht => 150..180
geht bei fünfzehn, geht nicht bei achtzehn => 150..180
zwischen fünfzehn und achtzehn => 150..180
zwischen fünf und zwanzig => 50..200
näher an fünfzehn als an achtzehn => 150..180
fünfzehn ja achtzehn nein => 150..180
fünfzehn geht => >=150
fünfzehn passt => >=150
fünfzehn locker => >=150
locker fünfzehn => >=150
fünfzehn fällt durch => >=150
nimmt die zwanzig => >=200
gut fünfzehn => >=150
fünfzehn und ein bisschen => >=150
achtzehn geht nicht => <180
achtzehn passt nicht => <180
achtzehn ist zu stramm => <180
nimmt die zehn nicht => <100
kriege die fünf nicht rein => <50
knapp fünfzehn => <150
fünfzehn setzt an geht aber nicht durch => <150
stramm fünfzehn => =150
fünfzehn saugend => =150
fünfzehn mit leichtem Zug => =150
fünfzehn gerade so => =150
eins Auslass rechts kein Spiel => 1 ex right none
gar kein Spiel => none
nichts => none
null => none ?
eins Einlass rechts null Komma eins => 1 in right =100
eins Einlass rechts null acht => 1 in right =80
eins Einlass rechts Komma null acht => 1 in right =80
eins Einlass links acht => 1 in left =80
eins Einlass links null fünfzehn => 1 in left =150
Auslass zwei links zwanzig => 2 ex left =200
linkes Auslass zwei zwanzig => 2 ex left =200
zwei linkes Auslassventil fünfundzwanzig => 2 ex left =250
Zylinder zwo Einlass rechts zwo Komma fünf Hundertstel => 2 in right =25 ?
dritter Auslass links fünfzehn => 3 ex left =150
erster Zylinder Einlass rechts elf => 1 in right =110
Topf zwei Einlass links elf => 2 in left =110
Nummer zwei Einlass rechts Komma eins zwei fünf => 2 in right =125
fünfzehn Hundertstel => =150
fünfzehn Hundertstelmillimeter => =150
ein Zehntel => =100
zwei Zehntel => =200
zwei Zehntel fünf => =250
ein halbes Zehntel => =50
ein viertel Millimeter => =250
vierzig Tausendstel => =40
hundertfünfzig Mikrometer => =150
fünfundzwanzig => =250
fünf und zwanzig => =250
zweiundfünfzig => =520 ?
zweiundvierzig => =420
vierundzwanzig => =240
komma acht => =800 ? OR =80
zehn plus fünf => =150
zwei Blätter zehn und fünf => =150
zwei Auslass rechts eins Komma fünf => refused: "1.5" is out of range for exhaust clearance: expected 0.00 mm to 1.00 mm
zwei zwei zwei fünf => refused: "2225" is out of range for clearance: expected 0.00 mm to 1.00 mm
achtzehn geht fünfzehn geht nicht => refused: 0.18 mm goes and 0.15 mm does not: the blade that goes must be the smaller one
sieben Auslass links fünfzehn => refused: this engine has no cylinder 7: expected 1 to 3
zwei Auslass vorne fünfzehn => refused: there is no exhaust valve called front: expected left or right
eins Einlass links, Plättchen zwei fünfundsechzig => 1 in left shim 2650/
eins Einlass links, Plättchen zwei sechs fünf => 1 in left shim 2650/
Plättchen eins Einlass links zwei Komma sechs fünf => 1 in left shim 2650/
Plättchen 2,65 => shim 2650/
Plättchen zweihundertfünfundsechzig => shim 2650/
Plättchen zweihundertfünf => shim 2050/
Plättchen zwei zweiundsechzigeinhalb => shim 2625/
Plättchen zwei sechs zwei fünf => shim 2625/
Plättchen zweieinhalb => shim 2500/
Plättchen dreihundert => shim 3000/
Plättchen drei glatt => shim 3000/ ?
neues Plättchen zwei siebzig => shim 2700/
gestempelt zwei fünfundsechzig gemessen zwei sechs vier acht => shim 2650/2648
eins Einlass links misst zwei sechs vier acht => 1 in left shim /2648
Plättchen zweiundsiebzig => refused: "72" is out of range for shim over the bucket: expected 1.50 mm to 4.50 mm
Ersatzplättchen zwei siebzig => spare 1x2700
zwei Ersatzplättchen zwei fünfundsiebzig => spare 2x2750
drei Stück zwei sechzig in der Kiste => spare 3x2600
dreimal zwei sechzig => spare 3x2600
Berichtigung, zwei Stück zwei sechzig => spare 2x2600
drei zwei sechzig in der Kiste => spare 3x2600
keine zwei sechzig mehr => spare 0x2600
Zylinder zwei Auslass rechts => 2 ex right open
Auslass zwei rechts => 2 ex right open
von links nach rechts => which_place
drei Auslass links Plättchen => 3 ex left measure_begun
links => left answer
außen => outer answer
aussen => outer answer
Berichtigung, null Komma eins acht => fix =180
nein, null Komma zwo => fix =200
mach sechzehn draus => fix =160
Berichtigung drei Auslass links fünfzehn geht achtzehn nicht => 3 ex left fix 150..180
wiederholen => say_again
streichen => disregard
streichen, nochmal => disregard
rückgängig => disregard
passt => affirm
stimmt => affirm
das stimmt => affirm
passt nicht => negative
stimmt nicht => negative
verstanden => roger
Pause => stand_by
zuhören => listen
nächstes => next
was kommt als nächstes => whats_next
lies drei Auslass links vor => 3 ex left read_back
wie viele noch => how_many_left
was ist zu stramm => whats_tight
welches Plättchen für drei Auslass links => 3 ex left which_shim
nochmal dasselbe Auslass rechts => ex right same_again
nochmal => unclear
passt schon => unclear
ein paar zwei siebzig => unclear
fünfzehn mit Druck => unclear
acht bis zehn => unclear
alle vier Einlässe fünfzehn => in group All Single(150000 nm)
der Rest fünfzehn => group Rest Single(150000 nm)
eine Größe dicker => step 1 None
zwei Stufen dünner => step -2 None
falscher Zylinder, das war zwei => 2 moved
Notiz, die Führung ist locker => note <die führung ist locker>
Diktat drei Auslass links => 3 ex left note_begun
Ende der Notiz => note_ended
Notiz drei Auslass links Sitzring ist glatt => 3 ex left note <sitzring ist glatt>
Schaft zwei Auslass links, fünf vier sechs fünf => 2 ex left stem diameter 5.465 mm
Schaftspiel zwei Auslass links, vierzig Mikrometer => 2 ex left stem clearance 0.04 mm
Führung zwei Auslass links, fünf fünf null zwei => 2 ex left guide bore 5.502 mm
Schaftschlag drei Einlass links, ein Hundertstel => 3 in left runout 0.01 mm
Sitzschlag drei Einlass links, zwei Hundertstel => 3 in left seat runout 0.02 mm
Sitz eins Auslass links, eins Komma eins => 1 ex left seat width 1.10 mm
Sitz eins Auslass links außen neunundzwanzig innen siebenundzwanzig Komma drei => 1 ex left seat width 29.00 mm, 27.30 mm
Feder drei Auslass links außen, neununddreißig Komma acht => 3 ex left spring free length of outer spring 39.80 mm
Nocken zwei Einlass links, fünfunddreißig Komma vier eins => 2 in left lobe height 35.41 mm
Federkraft eins Einlass links, hundertachtzig Newton bei dreiunddreißig Komma fünf => 1 in left spring load 180 N, 33.50 mm
Axialspiel Einlassnockenwelle, null Komma eins zwei => end float of inlet cam 0.12 mm
Lager drei, null vier fünf => journal clearance of journal 3 0.045 mm
Dichtfläche, diagonal, null vier geht, null fünf geht nicht => flatness of diagonal 40..50
Kopfschraube sieben, Stufe zwei fertig => torque of head bolt 7 stage 2 done
Lagerdeckel drei Einlass, zehn Newtonmeter => torque of cam cap 3 inlet 10 N·m
alle Kopfschrauben zwanzig Newtonmeter Stufe eins => torque of all head bolts stage 1 20 N·m
Kopfschraube drei plus neunzig => angle stage of head bolt 3 90 °
Kompression eins, zwölfeinhalb Bar => compression of cylinder 1 12.5 bar
Kompression eins nass, dreizehn Bar => compression of cylinder 1 wet 13 bar
Druckverlust drei, acht Prozent, Auslass => leak down of cylinder 3, exhaust 8 %
Druckverlust drei, 8 %, Auslass => leak down of cylinder 3, exhaust 8 %
Druckverlust drei, vierundsiebzig von achtzig => leak down of cylinder 3 80 psi, 74 psi ?
Einlass Spreizung hundertvier Grad => lobe centre of inlet cam 104 °
Auslass auf hunderteinundfünfzigeinhalb ab achtundfünfzigeinhalb => lobe centre of exhaust cam 151.5 °, 58.5 °
zweiundzwanzig Bolzen => chain pins 22
Kolbenrückstand eins null Komma zwei => deck height of cylinder 1 0.20 mm
Kolbenüberstand eins null Komma eins => deck height of cylinder 1 -0.10 mm
Kompression zwölf Bar => compression 12 bar
Druckverlust acht Prozent => leak down 8 %
Brennraum zweiundzwanzigeinhalb Kubikzentimeter => chamber volume 22.5 cm³
Kilometerstand vierundzwanzigtausenddreihundertzwölf Kilometer => mileage <24312 km>
Kilometerstand zwei vier drei => mileage <243>
nächste Prüfung bei dreißigtausend Kilometer => next_check <30000 km>
nächste Prüfung im Frühjahr => next_check <im frühjahr>
wann ist die nächste Prüfung => asked next_check
wie ist das Verdichtungsverhältnis von Zylinder zwei => 2 compression_ratio
Sitzschlag => choice
Kopf um zehn Hundertstel geplant => face cut 0.10 mm
neue Führung in zwei Auslass links gerieben auf sechs Komma null eins => 2 ex left new_guide guide bore 6.01 mm
Sitz gefräst an zwei Einlass links um fünfzehn Hundertstel => 2 in left recut_seat seat cut 0.15 mm
Sitz eins Einlass links dreißig Grad null Komma sechs => 1 in left seat width of 30 degrees 0.60 mm
Kopfschrauben neu => check new_bolts
alle Kopfschrauben um sechzig Grad weiter => angle stage of all head bolts 60 °
was ist die Grenze für die Sitzbreite => limit of seat width
achtzehn Grad hier drin => room temperature 18 °C
Kerzen drin => check plugs
Passhülsen zwei => check dowels 2
noch warm => check cold bad
erinnere mich an neue Deckeldichtung => task remind <neue deckeldichtung>
bestellen zwei Schaftdichtungen => task order <zwei schaftdichtungen>
abhaken Schaftdichtungen => tick <schaftdichtungen>
Beginn Einschleifen => begin lapping
Einschleifen fertig => done lapping
fertig => done
kein Ticken => check tick
wo bin ich => where_am_i
stell bitte Kaffee auf => nothing
fünfzehn Leute kommen heute => nothing
"#;
