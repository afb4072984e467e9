//! A voice is learnt from recordings, and listed, used and removed, as a person meets it.

use super::support::{err, espeak, fixtures, hiss, out, program};
use benchcall::audio::{Clip, encode_wav, read_clip, resample};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Output;

/// What the program says, with settings of its own.
fn benchcall(settings: &Path, args: &[&str]) -> Output {
    program()
        .args(args)
        .env("BENCHCALL_SETTINGS", settings)
        .output()
        .unwrap()
}

/// Lines of the recorded session, slower and lower: a voice that nobody has heard. Gives how many.
fn recordings(folder: &Path) -> usize {
    let session = fixtures().join("session");
    let sound = read_clip(&session.join("session.flac")).unwrap().samples;
    let truth = fs::read_to_string(session.join("truth.jsonl")).unwrap();
    let times = fs::read_to_string(session.join("session.tsv")).unwrap();
    let mut manifest = String::new();
    let mut count = 0;
    for (line, time) in truth.lines().zip(times.lines()) {
        let line: Value = serde_json::from_str(line).unwrap();
        if line["quantity"].is_null() || count == 13 {
            continue;
        }
        let columns: Vec<&str> = time.split('\t').collect();
        let at = |column: usize| columns[column].parse::<usize>().unwrap() * 16;
        let cut = &sound[at(1) - 4_000..at(2) + 4_000];
        let samples = resample(cut, 16_000, 18_000, 1).unwrap();
        let name = format!("{count}.wav");
        fs::write(folder.join(&name), encode_wav(&Clip::new(samples)).unwrap()).unwrap();
        manifest += &format!("{name}\t{}\n", line["text"].as_str().unwrap());
        count += 1;
    }
    // Silence, and a phrase that was not said: both are left out, and that is told.
    let silence = encode_wav(&Clip::new(vec![0.0; 16_000])).unwrap();
    fs::write(folder.join("silence.wav"), silence).unwrap();
    manifest += "silence.wav\taffirm\n0.wav\tstand by and listen for the compressor\n";
    fs::write(folder.join("manifest.tsv"), manifest).unwrap();
    count
}

#[test]
#[cfg_attr(debug_assertions, ignore = "takes minutes without optimisation")]
fn a_voice_is_learnt_from_recordings_listed_and_removed() {
    let dir = tempfile::tempdir().unwrap();
    let (settings, folder) = (dir.path().join("settings"), dir.path().join("said"));
    fs::create_dir(&folder).unwrap();
    let count = recordings(&folder);
    let folder = folder.to_str().unwrap();
    let run = |args: &[&str]| benchcall(&settings, args);

    let learnt = run(&["voice", "learn", "ann", "--from-folder", folder, "--json"]);
    let told = err(&learnt);
    assert!(
        told.contains("silence.wav is left out: it is too quiet"),
        "{told}"
    );
    assert!(
        told.contains("0.wav is left out: something else was said"),
        "{told}"
    );
    let result: Value =
        serde_json::from_str(&out(&learnt)).unwrap_or_else(|e| panic!("{e}: {told}"));
    assert_eq!(result["phrases"], count);
    let verdict = &result["verdict"];
    assert_eq!(verdict["quiet"]["of"], count / 4);
    assert!(verdict["others"]["of"].as_u64().unwrap() > 20, "{verdict}");
    let refused = verdict["refused"].as_str().unwrap();
    assert_eq!(learnt.status.success(), refused.is_empty(), "{verdict}");
    let file = Path::new(result["file"].as_str().unwrap());
    assert!(file.starts_with(settings.join("voices")));
    assert!(fs::metadata(file).unwrap().len() < 210_000);

    let listed: Value = serde_json::from_str(&out(&run(&["voice", "list", "--json"]))).unwrap();
    assert_eq!(listed[0]["name"], "ann");
    assert_eq!(
        (&listed[0]["on"], &listed[0]["phrases"]),
        (&false.into(), &count.into())
    );
    let on = run(&["voice", "on", "ann"]);
    assert_eq!(on.status.success(), refused.is_empty(), "{}", err(&on));

    let job = dir.path().join("job");
    let job = job.to_str().unwrap();
    assert!(run(&["new", job, "--engine", "triple"]).status.success());
    let clip = format!("{folder}/0.wav");
    let heard = run(&["hear", "--job", job, "--voice", "ann", &clip]);
    assert_eq!(
        heard.status.success(),
        refused.is_empty(),
        "{}",
        err(&heard)
    );
    if refused.is_empty() {
        // The record names weights and voice.
        let record: Value =
            serde_json::from_str(&out(&run(&["report", "--job", job, "--json"]))).unwrap();
        let model = record["versions"]["models"][0].as_str().unwrap();
        assert!(model.len() == 33 && model.contains('+'), "{model}");
    } else {
        assert!(
            err(&heard).contains("the voice \"ann\" stays off, since"),
            "{}",
            err(&heard)
        );
    }

    assert!(run(&["voice", "off"]).status.success());
    assert!(run(&["voice", "remove", "ann"]).status.success());
    assert!(!file.exists());
    assert!(out(&run(&["voice", "list"])).contains("No voice was learnt yet"));
}

#[test]
fn what_cannot_be_learnt_or_used_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let settings = dir.path().join("settings");
    let folder = dir.path().join("said");
    fs::create_dir(&folder).unwrap();
    let silence = encode_wav(&Clip::new(vec![0.0; 16_000])).unwrap();
    fs::write(folder.join("a.wav"), silence).unwrap();
    fs::write(folder.join("manifest.tsv"), "a.wav\taffirm\n").unwrap();
    let voices = settings.join("voices");
    fs::create_dir_all(&voices).unwrap();
    fs::write(voices.join("torn.safetensors"), "RIFF").unwrap();
    let (folder, job) = (folder.to_str().unwrap(), dir.path().join("job"));
    let job = job.to_str().unwrap();
    let made = benchcall(&settings, &["new", job, "--engine", "triple"]);
    assert!(made.status.success());
    let clip = format!("{folder}/a.wav");
    for (args, expected) in [
        (
            vec!["voice", "learn", "Ann", "--from-folder", folder],
            "\"Ann\" cannot name a voice",
        ),
        (
            vec!["voice", "learn", "ann", "--from-folder", folder],
            "0 phrases are too few to learn a voice from: expected at least 12",
        ),
        (
            vec!["voice", "learn", "ann", "--from", job],
            "was confirmed or put right yet",
        ),
        (
            vec!["voice", "on", "bob"],
            "there is no voice \"bob\": expected torn",
        ),
        (vec!["voice", "on", "torn"], "it is no voice profile"),
        (
            vec!["hear", "--job", job, "--voice", "torn", &clip],
            "it is no voice profile",
        ),
        (
            vec!["voice", "remove", "bob"],
            "there is no voice \"bob\": expected torn",
        ),
    ] {
        let output = benchcall(&settings, &args);
        assert!(!output.status.success(), "{args:?}");
        let told = err(&output);
        assert!(told.contains(expected), "{args:?}: {told}");
    }
}

/// Nobody can be asked again: a phrase that is left out, misread or said twice costs no other.
#[test]
fn phrases_are_found_in_a_recording_that_is_not_perfect() {
    let dir = tempfile::tempdir().unwrap();
    let settings = dir.path().join("settings");
    let phrases = out(&benchcall(
        &settings,
        &["voice", "learn", "ann", "--phrases"],
    ));
    let phrases: Vec<&str> = phrases.lines().take(9).collect();
    // The second is said twice, with a slip of the tongue between; the third is left out, the sixth misread.
    let mut said = phrases.clone();
    said[5] = "we had fish and chips by the sea";
    said.splice(2..3, ["put the kettle on please", phrases[1]]);
    let mut sound = hiss(1, 1e-3);
    for text in said {
        let Some(words) = espeak(&["-v", "en-us", "-s", "140"], text) else {
            return;
        };
        sound.extend(words);
        sound.extend(hiss(2, 1e-3));
    }
    let wav = dir.path().join("all.wav");
    fs::write(&wav, encode_wav(&Clip::new(sound)).unwrap()).unwrap();
    let wav = wav.to_str().unwrap();
    let learn = ["voice", "learn", "ann", "--recording", wav, "--count", "12"];
    let told = err(&benchcall(&settings, &learn));
    let is = |i: usize, what: &str| {
        let line = format!("{:>2} of 12. {what}: {}", i + 1, phrases[i]);
        assert!(told.contains(&line), "{line}: {told}");
    };
    [0, 1, 3, 4, 6, 7, 8].iter().for_each(|&i| is(i, "Taken"));
    [2, 5].iter().for_each(|&i| is(i, "Not found"));
    for why in [
        "something else was said: it sounds like",
        "said twice, misread or out of its place: it sounds like",
        "7 phrases are too few",
    ] {
        assert!(told.contains(why), "{why}: {told}");
    }
}
