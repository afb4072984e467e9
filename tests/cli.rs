//! The command line as a person or a script meets it: what it prints, and what it says of bad input.

use super::support::{benchcall, err, fixtures, out, program};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Output;

fn lines(output: &Output) -> Vec<Value> {
    out(output)
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect()
}

fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A fresh job; the folder lives as long as the first value.
fn job(engine: &str, unit: &str) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    let job = path(&folder.path().join("job")).to_owned();
    let made = benchcall(&["new", &job, "--engine", engine, "--unit", unit]);
    assert!(made.status.success(), "{}", err(&made));
    (folder, job)
}

#[test]
fn typed_phrases_come_out_as_the_documented_json() {
    let (_keep, job) = job("triple", "mm");
    let said = benchcall(&[
        "say",
        "--job",
        &job,
        "--json",
        "three exhaust left fifteen goes eighteen won't",
        "disregard",
        "put the kettle on",
    ]);
    assert!(said.status.success(), "{}", err(&said));
    let lines = lines(&said);
    let first = &lines[0];
    assert_eq!(
        first["said"],
        "three exhaust left fifteen goes eighteen wont"
    );
    let expected = [
        ("outcome", "stored".into()),
        ("quantity", "clearance".into()),
        ("cylinder", 3.into()),
        ("side", "exhaust".into()),
        ("valve", "left".into()),
        ("value_nm", 150_000.into()),
        ("goes_nm", 150_000.into()),
        ("stops_nm", 180_000.into()),
        ("command", Value::Null),
        ("note", Value::Null),
    ];
    for (key, value) in expected {
        assert_eq!(first[key], value, "{key}");
    }
    assert_eq!(lines[1]["command"], "disregard");
    assert_eq!(
        (&lines[2]["outcome"], &lines[2]["quantity"]),
        (&"ignored".into(), &Value::Null)
    );

    let sheet = benchcall(&["sheet", "--job", &job, "--json"]);
    let sheet: Value = serde_json::from_str(&out(&sheet)).unwrap();
    assert_eq!(sheet["remaining"], 12, "the reading was disregarded");
}

/// Common practice, no source: gap 0.50, fitted shim 2.00, target 0.10 -> new shim 2.40.
#[test]
fn a_shim_is_worked_out_and_a_what_if_touches_nothing() {
    let (keep, _) = job("triple", "mm");
    let profile = fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("grammars/engines/triple.toml"),
    )
    .unwrap();
    let profile = profile
        .replacen(
            "check_band_mm = [\"0.10\", \"0.20\"]",
            "check_band_mm = [\"0.05\", \"0.15\"]",
            1,
        )
        .replacen(
            "set_band_mm = [\"0.11\", \"0.20\"]",
            "set_band_mm = [\"0.06\", \"0.15\"]",
            1,
        )
        .replacen("target_mm = \"0.16\"", "target_mm = \"0.10\"", 1);
    let engine = keep.path().join("own.toml");
    fs::write(&engine, profile).unwrap();
    let job = path(&keep.path().join("own")).to_owned();
    let made = benchcall(&["new", &job, "--engine", path(&engine)]);
    assert!(made.status.success(), "{}", err(&made));
    benchcall(&[
        "say",
        "--job",
        &job,
        "one inlet left shim two hundred",
        "one inlet left fifty goes fifty one wont",
        "affirm",
    ]);
    let plan = |args: &[&str]| -> Value {
        let output = benchcall(&[&["shims", "--job", &job, "--json"], args].concat());
        serde_json::from_str(&out(&output)).unwrap_or_else(|e| panic!("{e}: {}", err(&output)))
    };
    let before = plan(&[]);
    assert_eq!(before["fittings"][0]["new_nm"], 2_400_000, "{before}");
    assert_eq!(
        plan(&["--what-if", "series=2.00:3.50:0.25"])["purchases"]
            .as_array()
            .map(Vec::len),
        Some(0)
    );
    assert_eq!(plan(&[]), before);
    let wrong = benchcall(&["shims", "--job", &job, "--what-if", "colour=red"]);
    assert!(
        err(&wrong).contains("\"colour\" cannot be asked: expected inlet_target"),
        "{}",
        err(&wrong)
    );
}

#[test]
fn samples_are_repeatable_and_say_what_they_mean() {
    let draw = |seed: &str| out(&benchcall(&["phrases", "--sample", "40", "--seed", seed]));
    assert_eq!(draw("7"), draw("7"));
    assert_ne!(draw("7"), draw("8"));
    for line in draw("7").lines() {
        let sample: Value = serde_json::from_str(line).unwrap();
        assert!(
            sample["text"].is_string()
                && sample["means"].is_string()
                && sample["outcome"].is_string(),
            "{line}"
        );
    }
}

#[test]
fn grammar_files_are_checked_with_line_and_column() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("grammars/en");
    let good = benchcall(&["phrases", "--check", path(&root)]);
    assert!(good.status.success(), "{}", err(&good));
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(&root).unwrap() {
        let entry = entry.unwrap();
        fs::copy(entry.path(), folder.path().join(entry.file_name())).unwrap();
    }
    let numbers = folder.path().join("numbers.toml");
    let text = fs::read_to_string(&numbers)
        .unwrap()
        .replacen("{zero}", "{zilch}", 1);
    fs::write(&numbers, text).unwrap();
    let bad = benchcall(&["phrases", "--check", path(folder.path())]);
    assert!(!bad.status.success());
    assert!(
        err(&bad).contains("numbers.toml:6:9: there is no rule `zilch`: expected one of"),
        "{}",
        err(&bad)
    );
}

#[test]
fn bad_input_says_what_was_wrong_and_what_was_expected() {
    let (keep, job) = job("triple", "mm");
    let place = keep.path();
    let write = |name: &str, bytes: &[u8]| {
        let file = place.join(name);
        fs::write(&file, bytes).unwrap();
        path(&file).to_owned()
    };
    let empty = write("empty.wav", b"");
    let text = write(
        "text.wav",
        b"this is no sound at all, only some text that goes on for a while",
    );
    let model = write("model.bin", &[7; 4096]);
    let engine = write("engine.toml", b"key = \"x\"\ncolour = \"red\"\n");
    let missing = path(&place.join("nowhere.wav")).to_owned();
    let new = path(&place.join("new")).to_owned();
    for (args, expected) in [
        (
            vec!["new", &new, "--engine", "boxer"],
            "there is no engine \"boxer\": expected one of triple",
        ),
        (vec!["new", &new, "--engine", &engine], "engine.toml:2:1"),
        (
            vec!["new", &new, "--engine", "triple", "--blades", "0.1"],
            "one blade tells too little: expected two or more blades of 0.01 mm to 1.00 mm",
        ),
        (
            vec!["new", &new, "--engine", "triple", "--blades", "900,1000"],
            "a blade of 900.00 mm: expected",
        ),
        (
            vec!["new", &new, "--engine", "triple", "--blades", "0.05,red"],
            "\"red\" is not a number",
        ),
        (vec!["new", &job, "--engine", "triple"], "already"),
        (vec!["say", "--job", &new, "left"], "no such folder"),
        (vec!["hear", "--job", &job, &empty], "empty.wav"),
        (vec!["hear", "--job", &job, &text], "text.wav"),
        (vec!["hear", "--job", &job, &missing], "cannot read"),
        (
            vec!["hear", "--job", &job, "--model", &model, &text],
            "is not a Whisper model",
        ),
        (
            vec![
                "listen",
                "--job",
                &job,
                "--microphone",
                "no such microphone",
            ],
            "no such microphone",
        ),
    ] {
        let output = benchcall(&args);
        assert!(!output.status.success(), "{args:?}");
        assert!(
            err(&output).contains(expected),
            "{args:?}: {}",
            err(&output)
        );
    }
    assert!(
        !Path::new(&new).exists(),
        "a job that could not be made leaves nothing behind"
    );
}

/// A damaged file among good ones stops nothing, and what was stored stays.
#[test]
fn hear_goes_on_after_a_file_that_it_cannot_read() {
    let (keep, job) = job("triple", "mm");
    let bad = keep.path().join("bad.wav");
    fs::write(&bad, b"RIFF....").unwrap();
    let good = fixtures().join("recogniser/three_exhaust_left_point_two_five.wav");
    let output = benchcall(&["hear", "--job", &job, "--json", path(&bad), path(&good)]);
    assert!(!output.status.success());
    assert!(
        err(&output).contains("1 of 2 files could not be heard"),
        "{}",
        err(&output)
    );
    let lines = lines(&output);
    assert_eq!(lines.len(), 1);
    assert!(
        lines[0]["outcome"] == "stored" || lines[0]["outcome"] == "asked",
        "{}",
        lines[0]
    );
    assert_eq!(
        (&lines[0]["cylinder"], &lines[0]["value_nm"]),
        (&3.into(), &250_000.into())
    );
    assert!(lines[0]["done_ms"].as_u64() >= lines[0]["speech_end_ms"].as_u64());
}

#[test]
fn two_processes_do_not_write_one_job() {
    let (_keep, job) = job("triple", "mm");
    let open = benchcall::app::job::Job::open(Path::new(&job)).unwrap();
    let second = benchcall(&["say", "--job", &job, "left"]);
    assert!(!second.status.success());
    assert!(
        err(&second).contains(&std::process::id().to_string()),
        "{}",
        err(&second)
    );
    let look = benchcall(&["sheet", "--job", &job]);
    assert!(look.status.success(), "looking is allowed: {}", err(&look));
    drop(open);
    assert!(benchcall(&["say", "--job", &job, "left"]).status.success());
}

#[test]
fn an_inspection_by_typed_phrases_comes_to_findings() {
    let (_keep, job) = job("triple", "mm");
    let said = benchcall(&[
        "say",
        "--job",
        &job,
        "stem two exhaust left, five four six five",
        "guide two exhaust left, five five oh two",
        "end float inlet cam, point three",
        "three exhaust left, fifteen goes, eighteen doesn't",
        "shim two forty",
        "start lapping",
        "order two stem seals",
    ]);
    assert!(said.status.success(), "{}", err(&said));
    let found = benchcall(&["findings", "--job", &job, "--json"]);
    let found: Value = serde_json::from_str(&out(&found)).unwrap();
    let items = found["items"].as_array().unwrap();
    // 5.502 - 5.465 = 0.037 (arithmetic).
    let fit = items
        .iter()
        .find(|i| i["what"] == "stem to guide clearance")
        .unwrap();
    assert_eq!(fit["finding"]["verdict"], "good");
    assert!(
        fit["finding"]["reason"]
            .as_str()
            .unwrap()
            .contains("0.037 mm")
    );
    let float = items.iter().find(|i| i["what"] == "end float").unwrap();
    assert_eq!(float["finding"]["verdict"], "out_of_limit");
    assert_eq!(float["finding"]["limit_source"], "invented for the demo");
    let cut = [
        "cut",
        "--job",
        &job,
        "--valve",
        "three exhaust left",
        "--by",
    ];
    let small = benchcall(&[&cut[..], &["0.05"]].concat());
    assert!(out(&small).contains("= good"), "{}", out(&small));
    // 2.40 + 0.15 - 0.30 - 2.00 = 0.25: inside 0.21 to 0.30, though the target is missed
    // (arithmetic).
    let near = benchcall(&[&cut[..], &["0.30"]].concat());
    assert!(out(&near).contains("= good"), "{}", out(&near));
    // 2.40 + 0.15 - 0.40 - 2.00 = 0.15, too tight with the thinnest (arithmetic).
    let deep = benchcall(&[&cut[..], &["0.40"]].concat());
    assert!(out(&deep).contains("Stop before cutting"), "{}", out(&deep));
    for by in ["5", "9000000000", "-1", "deep"] {
        let by = format!("--by={by}");
        let nonsense = benchcall(&[&cut[..5], &[by.as_str()]].concat());
        assert!(!nonsense.status.success(), "{by}");
        assert!(
            err(&nonsense).contains("expected"),
            "{by}: {}",
            err(&nonsense)
        );
    }
    let nowhere = benchcall(&[
        "cut",
        "--job",
        &job,
        "--valve",
        "the left one",
        "--by",
        "0.05",
    ]);
    assert!(!nowhere.status.success());
    assert!(err(&nowhere).contains("expected a place such as"));
    let progress = benchcall(&["progress", "--job", &job]);
    assert!(out(&progress).contains("[>] lapping"), "{}", out(&progress));
    assert!(out(&progress).contains("still open: order two stem seals"));
}

#[test]
fn shims_by_price_need_a_price_and_a_cam_that_stays_in_keeps_its_shims() {
    let (_keep, job) = job("triple", "mm");
    let said = benchcall(&[
        "say",
        "--job",
        &job,
        "three exhaust left, ten goes, twelve doesn't",
        "shim two sixty",
    ]);
    assert!(said.status.success(), "{}", err(&said));
    let bare = benchcall(&["shims", "--job", &job, "--aim", "lowest-price"]);
    assert!(err(&bare).contains("needs a price"), "{}", err(&bare));
    let odd = benchcall(&["shims", "--job", &job, "--pack", "five"]);
    assert!(err(&odd).contains("expected PIECES:PRICE"), "{}", err(&odd));
    let priced = benchcall(&[
        "shims",
        "--job",
        &job,
        "--aim",
        "lowest-price",
        "--pack",
        "5:12.50",
        "--single",
        "4",
        "--json",
    ]);
    let plan: Value = serde_json::from_str(&out(&priced)).unwrap();
    assert_eq!(
        (&plan["score"]["price"], &plan["proven"]),
        (&400.into(), &true.into())
    );
    let list = [
        "shims",
        "--job",
        &job,
        "--aim=lowest-price",
        "--pack=5:12.50",
        "--list",
    ];
    let list = out(&benchcall(&list));
    assert!(
        list.contains("Buy 1 of 2.45 mm, as 1 pack: 12.50."),
        "{list}"
    );
    assert!(list.contains("Together 12.50."), "{list}");
    assert!(list.contains("over the bucket"), "{list}");
    // Eleven valves are not measured yet, and the headline says so.
    let plan = out(&benchcall(&["shims", "--job", &job]));
    assert!(
        plan.starts_with("1 shim to change; 11 valves wait for something else first."),
        "{plan}"
    );
    for (option, says) in [
        ("--pack=99999:1", "from 1 to 100"),
        ("--pack=0:1", "from 1 to 100"),
        (
            "--what-if=inlet_target=deep",
            "expected a number above zero in mm, such as 0.15",
        ),
    ] {
        let refused = benchcall(&["shims", "--job", &job, option]);
        assert!(!refused.status.success(), "{option}");
        assert!(err(&refused).contains(says), "{}", err(&refused));
    }
    let kept = benchcall(&["shims", "--job", &job, "--keep-cam", "exhaust", "--json"]);
    let plan: Value = serde_json::from_str(&out(&kept)).unwrap();
    assert_eq!(plan["fittings"].as_array().unwrap().len(), 0);
}

/// Whatever holds the record, a sound or what was said is for its owner alone.
#[cfg(unix)]
#[test]
fn what_is_written_is_for_its_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let (keep, job) = job("triple", "mm");
    benchcall(&["say", "--job", &job, "two inlet left no gap"]);
    let at = |name: &str| path(&keep.path().join(name)).to_owned();
    let (html, csv, json) = (at("record.html"), at("record.csv"), at("record.json"));
    // One that anybody could read is there already.
    fs::write(&csv, "old").unwrap();
    fs::set_permissions(&csv, fs::Permissions::from_mode(0o644)).unwrap();
    let made = benchcall(&[
        "report", "--job", &job, "--html", &html, "--csv", &csv, "--json", &json,
    ]);
    assert!(made.status.success(), "{}", err(&made));
    let set = at("voice/set");
    let made = benchcall(&["review", "--job", &job, "--export", &set]);
    assert!(made.status.success(), "{}", err(&made));
    let mode = |p: &str| fs::metadata(p).unwrap().permissions().mode() & 0o777;
    for file in [html, csv.clone(), json, at("voice/set/manifest.tsv")] {
        assert_eq!(mode(&file), 0o600, "{file}");
    }
    for folder in [at("voice"), set] {
        assert_eq!(mode(&folder), 0o700, "{folder}");
    }
    assert!(fs::read_to_string(csv).unwrap().contains("inlet"));
}

/// Talk that was not for the tool is gone when listening ends, unless the person wants to keep it.
#[test]
fn ignored_talk_is_kept_only_where_that_is_asked_for() {
    let clip = fixtures().join("recogniser/yes.wav");
    let clip = path(&clip);
    for (keep, left) in [(None, 0), (Some("--keep-talk"), 1)] {
        for way in [
            vec!["hear", clip],
            vec!["listen", "--silent", "--recording", clip],
        ] {
            let (folder, job) = job("triple", "mm");
            benchcall(&["say", "--job", &job, "stand by"]);
            let mut args = way.clone();
            args.extend(["--job", &job, "--json"]);
            args.extend(keep);
            let done = benchcall(&args);
            assert!(done.status.success(), "{way:?}: {}", err(&done));
            assert_eq!(lines(&done)[0]["outcome"], "ignored", "{way:?}");
            let clips = fs::read_dir(folder.path().join("job/clips")).unwrap();
            assert_eq!(clips.count(), left, "{way:?} {keep:?}");
        }
    }
}

/// A report that somebody else wrote: names and notes may hold anything.
#[test]
fn an_imported_report_commands_no_terminal_and_no_spreadsheet() {
    let (keep, job) = job("triple", "mm");
    let said = [
        "one inlet left fifteen goes eighteen wont",
        "note one inlet left scuffed",
        "remind me new cover gasket",
        "dowels two",
    ];
    assert!(
        benchcall(&[&["say", "--job", &job], &said[..]].concat())
            .status
            .success()
    );
    let json = benchcall(&["report", "--job", &job, "--json", "-"]);
    let bad = "=1+1 <img src=x onerror=alert(1)> \u{1b}[31m\u{1b}]0;owned\u{7} \u{202e}gnp";
    let quoted = serde_json::to_string(bad).unwrap();
    let quoted = quoted.trim_matches('"');
    let mut report: Value = serde_json::from_str(&out(&json)).unwrap();
    let text = report["events"].to_string();
    let profile = "in-line triple, four valves";
    for word in ["scuffed", "new cover gasket", profile] {
        assert!(text.contains(word), "{word}");
    }
    // The profile is TOML inside JSON: an escape of its own inside one of the other's.
    let in_toml = quoted.replace('\\', "\\\\");
    let text = text
        .replace("\"scuffed", &format!("\"{quoted}"))
        .replace("new cover gasket", quoted)
        .replace(profile, &in_toml);
    report["events"] = serde_json::from_str(&text).unwrap();
    let file = keep.path().join("bad.json");
    fs::write(&file, report.to_string()).unwrap();
    let copy = path(&keep.path().join("copy")).to_owned();
    let made = benchcall(&["report", "--job", &copy, "--import", path(&file)]);
    assert!(made.status.success(), "{}", err(&made));
    for args in [
        &["sheet"][..],
        &["shims"],
        &["findings"],
        &["progress"],
        &["turns"],
        &["say", "read back one inlet left", "whats still open"],
        &["report", "--html", "-"],
        &["report", "--csv", "-"],
        &["report", "--json", "-"],
    ] {
        let args = [&args[..1], &["--job", &copy], &args[1..]].concat();
        let done = benchcall(&args);
        assert!(done.status.success(), "{args:?}: {}", err(&done));
        let printed = out(&done) + &err(&done);
        for command in ['\u{1b}', '\u{7}', '\u{202e}'] {
            assert!(!printed.contains(command), "{args:?}: {printed:?}");
        }
        match args[args.len() - 2] {
            "--html" => {
                assert!(
                    printed.contains("&#60;img src=x onerror=alert(1)&#62;"),
                    "{printed}"
                );
                assert!(!printed.contains("<img"), "{printed}");
            }
            "--csv" => assert!(printed.contains(",\"'=1+1 "), "{printed}"),
            _ => {}
        }
    }
}

/// What is said and asked in thou is in thou, and shims stay what is marked on them: millimetres.
#[test]
fn a_thou_job_names_shims_as_they_are_marked() {
    let (_keep, job) = job("triple", "thou");
    let said = benchcall(&[
        "say",
        "--job",
        &job,
        "one inlet left, three goes, four doesn't",
        "shim two fifty nine",
    ]);
    assert!(said.status.success(), "{}", err(&said));
    // 0.076 to 0.102 mm: 2.50 gives 0.166 to 0.192, 2.55 gives 0.116 to 0.142 (arithmetic).
    let plan = out(&benchcall(&["shims", "--job", &job]));
    assert!(plan.contains("Buy 1 of 2.50 mm (98.4 thou)."), "{plan}");
    let what_if = |change: &str| benchcall(&["shims", "--job", &job, "--what-if", change]);
    let other = out(&what_if("inlet_target=5"));
    assert!(other.contains("Buy 1 of 2.55 mm (100.4 thou)."), "{other}");
    let outside = what_if("inlet_target=0.15");
    assert!(err(&outside).contains("expected 4.3"), "{}", err(&outside));
}

#[test]
fn a_profile_is_printed_back_with_what_it_lacks() {
    let page = out(&benchcall(&["engine", "triple"]));
    for says in [
        "Inlet: valves left, right; left alone from 0.10 mm to 0.20 mm, fitted to land in 0.11 mm to 0.20 mm, aimed at 0.16 mm; opens 30, closes 60 degrees",
        "31 sizes, 2.00 mm to 3.50 mm by 0.05 mm",
        "cylinder head bolts: 20, 40 N·m, then 60 degrees; in the order 4, 5, 3, 6, 2, 7, 1, 8",
        "Limit of exhaust stem clearance: at most 0.10 mm (invented for the demo)",
        "nothing is judged by: the limit of guide bore",
        "the torque of sprocket bolts",
    ] {
        assert!(page.contains(says), "{page}\nshould say {says}");
    }
    let (keep, _) = job("triple", "mm");
    let text = fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("grammars/engines/triple.toml"),
    );
    let wrong = text
        .unwrap()
        .replacen("\"seat_width\"", "\"seat width\"", 1);
    let file = keep.path().join("wrong.toml");
    fs::write(&file, wrong).unwrap();
    let refused = benchcall(&["engine", path(&file)]);
    assert!(
        err(&refused).contains("wrong.toml:79:12"),
        "{}",
        err(&refused)
    );
}

#[test]
fn a_report_whose_profile_is_broken_is_not_brought_back() {
    let (keep, job) = job("triple", "mm");
    let report = keep.path().join("report.json");
    let written = benchcall(&["report", "--job", &job, "--json", path(&report)]);
    assert!(written.status.success(), "{}", err(&written));
    let text = fs::read_to_string(&report).unwrap();
    let broken = text.replacen("firing_order", "fireing_order", 1);
    assert_ne!(text, broken);
    fs::write(&report, broken).unwrap();
    let folder = keep.path().join("back");
    let back = path(&folder);
    let refused = benchcall(&["report", "--job", back, "--import", path(&report)]);
    assert!(
        err(&refused).contains("unknown field `fireing_order`"),
        "{}",
        err(&refused)
    );
    assert!(!folder.join("job.sqlite").exists());
}

/// The band of a job's profile is set: what changes is said, and the job goes by it from then on.
#[test]
fn a_jobs_profile_is_changed_as_an_event() {
    let (_keep, job) = job("triple", "mm");
    let said = [
        "say",
        "--job",
        &job,
        "one inlet left fifteen goes eighteen won't",
    ];
    assert!(benchcall(&said).status.success());
    let set = |entry: &str| benchcall(&["engine", "--job", &job, "--set", entry]);
    let changed = set("inlet.check_band_mm=[\"0.18\", \"0.20\"]");
    let refused = err(&changed);
    assert!(
        refused.contains("expected"),
        "the set band lies outside: {refused}"
    );
    let changed = out(&set("exhaust.target_mm=0.25"));
    assert!(changed.contains("aimed at 0.25 mm"), "{changed}");
    assert!(changed.contains("No verdict changes."), "{changed}");
    let again = err(&set("exhaust.target_mm=0.25"));
    assert!(again.contains("nothing would change"), "{again}");
    for (entry, expected) in [
        (
            "exhaust.target=0.25",
            "there is no \"target\" in it: expected one of",
        ),
        ("outlet.target_mm=0.25", "no table \"outlet\""),
        ("limit.seat_depth.max=1", "no limit \"seat_depth\""),
        (
            "limit.stem_clearance.max=0.09",
            "several limit \"stem_clearance\"",
        ),
        ("0.25", "expected ENTRY=VALUE"),
        ("cylinders.count=x", "expected it as in the file"),
    ] {
        let refused = err(&set(entry));
        assert!(refused.contains(expected), "{entry}: {refused}");
    }
    let changed = out(&set("limit.seat_width.max=1.60"));
    assert!(
        changed.contains("+ Limit of seat width: 0.9 to 1.60 mm"),
        "{changed}"
    );
    let page = out(&benchcall(&["engine", "--job", &job]));
    assert!(page.contains("aimed at 0.25 mm"), "{page}");
    let file = Path::new(&job).with_file_name("other.toml");
    let text = fs::read_to_string("grammars/engines/triple.toml").unwrap();
    let wider = text
        .replace("[\"0.10\", \"0.20\"]", "[\"0.05\", \"0.14\"]")
        .replace("[\"0.11\", \"0.20\"]", "[\"0.08\", \"0.14\"]")
        .replace("target_mm = \"0.16\"", "target_mm = \"0.12\"");
    fs::write(&file, wider).unwrap();
    let changed = out(&benchcall(&[
        "engine",
        "--job",
        &job,
        "--from",
        path(&file),
    ]));
    assert!(
        changed.contains("1 inlet left: in band before, now loose"),
        "{changed}"
    );
    let six = err(&benchcall(&["engine", "--job", &job, "--from", "six"]));
    assert!(six.contains("begin a new job"), "{six}");
}

#[test]
fn whose_machine_it_is_stands_in_the_report() {
    let folder = tempfile::tempdir().unwrap();
    let job = path(&folder.path().join("job")).to_owned();
    let made = benchcall(&[
        "new",
        &job,
        "--engine",
        "triple",
        "--owner",
        "the corner garage",
        "--mileage",
        "24 312 km",
    ]);
    assert!(made.status.success(), "{}", err(&made));
    let page = folder.path().join("report.html");
    let written = benchcall(&["report", "--job", &job, "--html", path(&page)]);
    assert!(written.status.success(), "{}", err(&written));
    let page = fs::read_to_string(page).unwrap();
    assert!(page.contains("<dt>Owner</dt><dd>the corner garage</dd>"));
    assert!(page.contains("<dt>Mileage</dt><dd>24 312 km</dd>"));
}

#[test]
fn a_second_start_from_the_icon_opens_the_bench_that_runs() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    // What the system opens a file with.
    let opened = at("opened");
    let opener = at("xdg-open");
    fs::write(
        &opener,
        format!("#!/bin/sh\necho \"$1\" >> '{}'\n", opened.display()),
    )
    .unwrap();
    fs::set_permissions(&opener, fs::Permissions::from_mode(0o755)).unwrap();
    let port = {
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        free.local_addr().unwrap().port().to_string()
    };
    let clip = fixtures().join("recogniser/yes.wav");
    let start = || {
        let mut bench = program();
        bench
            .args(["bench", path(&at("jobs")), "--open", "--port", &port])
            .args(["--silent", "--recording", path(&clip)])
            .env("BENCHCALL_SETTINGS", at("settings"))
            .env("PATH", format!("{}:/usr/bin:/bin", folder.path().display()));
        bench
    };
    let times = |n: usize| {
        let begun = std::time::Instant::now();
        let all = || fs::read_to_string(&opened).unwrap_or_default();
        while all().lines().count() < n && begun.elapsed().as_secs() < 60 {
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
        all().lines().map(str::to_owned).collect::<Vec<_>>()
    };
    let mut first = start().spawn().unwrap();
    let way_in = at("settings/way-in.html");
    assert_eq!(times(1), [path(&way_in)]);
    // The address lets in: nobody else may read it, so it is no argument of the browser.
    let page = fs::read_to_string(&way_in).unwrap();
    assert!(
        page.contains(&format!("http://127.0.0.1:{port}/pair#")),
        "{page}"
    );
    let mode = way_in.metadata().unwrap().permissions().mode() & 0o777;
    assert_eq!(mode, 0o600);
    let second = start().output().unwrap();
    assert!(second.status.success(), "{}", err(&second));
    assert!(err(&second).contains("The bench runs already."));
    assert_eq!(times(2).len(), 2);
    first.kill().unwrap();
    first.wait().unwrap();
}

#[test]
fn manual_pages_and_completions_name_every_command() {
    let folder = tempfile::tempdir().unwrap();
    let made = benchcall(&["manual", path(folder.path())]);
    assert!(made.status.success(), "{}", err(&made));
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    let help = out(&benchcall(&["--help"]));
    // A line that goes on is indented further.
    let commands = help.lines().filter_map(|l| l.strip_prefix("  "));
    let names = commands.filter(|l| !l.starts_with([' ', '-']));
    let names = names.filter_map(|l| l.split_whitespace().next());
    let names: Vec<&str> = names.filter(|n| *n != "help").collect();
    assert!(names.len() > 20, "{names:?}");
    for name in names {
        assert!(read(&format!("benchcall-{name}.1")).contains(".SH SYNOPSIS"));
        for shell in ["benchcall.bash", "_benchcall", "benchcall.fish"] {
            assert!(read(shell).contains(name), "{shell}: {name}");
        }
    }
}
