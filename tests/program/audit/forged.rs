//! Journals that were changed and given fitting hashes.

use crate::audit::bench::{forged, point};

#[test]
fn what_is_forged_with_all_hashes_is_decided_otherwise() {
    // (job, what stands in a line, what is put there, the point that finds it)
    let forgeries = [
        (
            "job/trouble",
            "\"by\":\"cy\",\"origin\":\"answers\",\"event\":\"accepted\"",
            "\"by\":\"ada\",\"origin\":\"answers\",\"event\":\"accepted\"",
            "exceptions",
        ),
        ("heron-taxi", "\"verdict\":\"not met\"", "\"verdict\":\"met\"", "decisions"),
        (
            "heron-van",
            "{\"second_signature\":{\"text\":\"marek\"}}",
            "{\"second_signature\":{\"text\":\"rita\"}}",
            "signatures",
        ),
        (
            "heron-van",
            "{\"second_signature\":{\"text\":\"marek\"}}",
            "{\"second_signature\":{\"text\":\"lena\"}}",
            "signatures",
        ),
        ("heron-van", "\"witness\":{\"by\":\"jo\"}", "\"witness\":{\"by\":\"rita\"}", "witnesses"),
        ("heron-van", "\"at\":\"2026-11-24T08:14:10", "\"at\":\"2026-11-24T03:14:10", "time"),
        ("heron-van", "\"pan_wrench_low\":\"small-wrench\"", "\"pan_wrench_low\":\"large-wrench\"", "instruments"),
        ("heron-van", "\"pan_dial\":\"small-wrench\"", "\"pan_dial\":\"reader\"", "instruments"),
        (
            "plover-pickup",
            "\"origin\":\"log\",\"event\":\"stream\"",
            "\"origin\":\"page\",\"event\":\"stream\"",
            "readings",
        ),
        ("heron-van", "\"value\":720.0", "\"value\":730.0", "decisions"),
        (
            "heron-van",
            "\"event\":\"finished\"",
            "\"event\":\"opened\",\"schema\":\"standpipe.journal/2\",\"job\":\"x\",\"plan\":\"x\",\"tool\":\"x\",\"interpreter\":\"x\"",
            "order of events",
        ),
    ];
    for (job, what, by, name) in forgeries {
        let (code, journal) = forged(job, |_, line| line.replacen(what, by, 1));
        let found = point(&journal, name);
        assert_eq!((code, found["verdict"].as_str()), (1, Some("does not hold")), "{what}: {journal}");
        let place = &found["findings"][0]["place"];
        assert!(place["line"].as_u64().unwrap() > 0 && place["file"].as_str().unwrap().ends_with("journal.jsonl"));
    }
}

#[test]
fn a_reason_that_was_taken_away_is_missed() {
    let (code, journal) = forged("job-alone/alone", |_, line| match line.find("\"because\":\"apart-") {
        Some(at) => format!("{}\"because\":\"\"{}", &line[..at], &line[at + 11 + 70 + 1..]),
        None => line,
    });
    assert_eq!((code, point(&journal, "exceptions")["verdict"].as_str()), (1, Some("does not hold")), "{journal}");
}

#[test]
fn computed_values_may_differ_in_their_last_digits_only() {
    let computed = |factor: f64| {
        forged("heron-van", move |_, line| {
            let Some(at) =
                line.find("\"event\":\"computed\"").and_then(|at| Some(at + line[at..].find("\"value\":{\"record\"")?))
            else {
                return line;
            };
            let Some(start) = line[at..].find("\"si\":").map(|found| at + found + 5) else { return line };
            let end = start + line[start..].find(',').unwrap();
            let value: f64 = line[start..end].parse().unwrap();
            format!("{}{}{}", &line[..start], value * factor, &line[end..])
        })
    };
    let (code, journal) = computed(1.0 + 1e-11);
    assert_eq!((code, point(&journal, "decisions")["verdict"].as_str()), (0, Some("holds")), "{journal}");
    let (code, journal) = computed(1.0 + 1e-7);
    assert_eq!((code, point(&journal, "decisions")["verdict"].as_str()), (1, Some("does not hold")));
}

#[test]
fn a_verdict_that_hangs_by_a_thread_is_not_shown() {
    // 900 rpm is the most that is allowed.
    for (speed, verdict, exit) in [("900.0000001", "not shown", 0), ("900.001", "does not hold", 1)] {
        let si = 75.39822368615503 * speed.parse::<f64>().unwrap() / 720.0;
        let decimals = speed.split_once('.').unwrap().1.len();
        let (code, journal) = forged("heron-van", |_, line| {
            line.replace("75.39822368615503", &si.to_string())
                .replace(
                    "\"value\":720.0,\"unit\":\"rpm\",\"decimals\":0",
                    &format!("\"value\":{speed},\"unit\":\"rpm\",\"decimals\":{decimals}"),
                )
                .replace("720 rpm", &format!("{speed} rpm"))
        });
        let decisions = point(&journal, "decisions");
        assert_eq!((code, decisions["verdict"].as_str()), (exit, Some(verdict)), "{decisions}");
    }
}

#[test]
fn what_nobody_believes_is_not_shown_and_no_more() {
    let (_, journal) = forged("heron-van", |_, line| {
        let (Some(at), true) = (line.find("\"at\":\""), line.contains("\"event\":\"entered\"")) else { return line };
        format!("{}2026-11-24T10:04:00{}", &line[..at + 6], &line[at + 6 + 19..])
    });
    let pace = point(&journal, "pace of entries");
    assert_eq!(pace["verdict"], "not shown", "everything ticked in one minute");
    assert!(pace["findings"][0]["message"].as_str().unwrap().contains("within one minute"), "{pace}");
    // Every reading written as a whole number, though the instruments show tenths and hundredths.
    let (_, journal) = forged("heron-van", |_, line| {
        let key = "\"written\":{\"value\":";
        let (Some(at), true) = (line.find(key), line.contains("\"with\":{")) else { return line };
        let start = at + key.len();
        let end = start + line[start..].find(',').unwrap();
        let value: f64 = line[start..end].parse().unwrap();
        format!("{}{:?}{}", &line[..start], value.ceil(), &line[end..])
    });
    let digits = point(&journal, "round readings");
    assert_eq!(digits["verdict"], "not shown", "{digits}");
    assert!(digits["findings"][0]["message"].as_str().unwrap().contains(" %)"), "the share is told: {digits}");
}

#[test]
fn another_wrench_than_the_one_whose_scale_was_looked_at_is_not_shown_to_suit() {
    let other = |from: &'static str| {
        let (code, journal) = forged("heron-van", move |_, line| line.replace(from, &from.replace("small", "large")));
        assert_eq!((code, point(&journal, "decisions")["verdict"].as_str()), (0, Some("holds")), "{journal}");
        point(&journal, "instruments").clone()
    };
    let found = other("\"plug_dial\":\"small-wrench\"");
    assert_eq!(found["verdict"], "not shown");
    let said = "`plug_dial` was read with `large-wrench`; the scale that was checked against is that of `small-wrench`";
    assert_eq!(found["findings"][0]["message"], said, "{found}");
}

#[test]
fn nothing_is_entered_before_it_was_done() {
    // Entered thirteen minutes after it was done; now it was done ten hours after it was entered.
    let (code, journal) = forged("heron-van", |_, line| {
        line.replace(
            "\"at\":\"2026-11-23T13:21:00+01:00\",\"entered_at\"",
            "\"at\":\"2026-11-23T23:34:00+01:00\",\"entered_at\"",
        )
    });
    let time = point(&journal, "time");
    assert_eq!((code, time["verdict"].as_str()), (1, Some("does not hold")), "{time}");
    let findings = time["findings"].as_array().unwrap();
    assert!(findings.iter().any(|one| one["message"].as_str().unwrap().contains("before it was done")), "{time}");
}

#[test]
fn five_steps_in_a_minute_are_believed_and_six_are_not() {
    // (seconds from one entry to the next, whether it is believed): five fit into a minute of 15 s each, six of 12 s.
    for (apart, verdict) in [(15, "holds"), (12, "not shown")] {
        let entries = std::cell::Cell::new(0);
        let (_, journal) = forged("heron-van", |_, line| {
            let (Some(at), true) = (line.find("\"at\":\""), line.contains("\"event\":\"entered\"")) else {
                return line;
            };
            let seconds = entries.replace(entries.get() + 1) * apart;
            let time = format!("2026-11-24T{:02}:{:02}:{:02}", 6 + seconds / 3600, seconds / 60 % 60, seconds % 60);
            let line = format!("{}{time}{}", &line[..at + 6], &line[at + 6 + 19..]);
            // A time of its own at which it was entered would count instead.
            match line.find(",\"entered_at\":\"") {
                Some(late) => format!("{}{}", &line[..late], &line[late + ",\"entered_at\":\"\"".len() + 25..]),
                None => line,
            }
        });
        let pace = point(&journal, "pace of entries");
        assert_eq!(pace["verdict"], verdict, "{apart} s apart: {pace}");
        if verdict == "not shown" {
            assert!(pace["findings"][0]["message"].as_str().unwrap().starts_with("6 of "), "{pace}");
        }
    }
}
