//! What somebody can do who may write to the folder of jobs, and who finds it: the folder by itself, the list of signers, the
//! hash of the book that the customer's copy has. What nobody finds stands here too, and in SECURITY.md.

use std::fs;

use serde_json::Value as Json;

use super::bench::{Act, NAMESPACE, Shop, acts, armoured, list, pair, public};
use super::book;
use crate::audit::bench::{audit, forge, forge_all, point, reword, with_plan};

/// Found by nobody: it holds.
const NOTHING: [&str; 3] = ["", "holds", ""];
const BROKEN: &str = "does not hold";
const UNSHOWN: &str = "not shown";

struct Attack {
    name: &'static str,
    deed: fn(&mut Shop),
    /// Point, verdict and words: by the folder alone, with the list, with the list and the hash of the customer's copy.
    alone: [&'static str; 3],
    listed: [&'static str; 3],
    printed: [&'static str; 3],
}

const UNCHECKED: [&str; 3] = ["keys", UNSHOWN, "nobody checked whose key that is"];
const EXCHANGED: [&str; 3] = ["book", BROKEN, "the journal was replaced"];
const GONE: [&str; 3] = ["book", BROKEN, "is gone"];
const OTHER_FILE: [&str; 3] = ["book", BROKEN, "is a different file now"];
const UNKNOWN: [&str; 3] = ["book", UNSHOWN, "the book does not know of this signature"];
const OTHER_BOOK: [&str; 3] = ["book", BROKEN, "no line has the hash that was printed"];

/// Another word in what the customer was told, with all hashes made anew: nothing else tells it from a true one.
fn rewrite(shop: &Shop) {
    let (was, is) = reword(&shop.job, "it is dry", "all is dry");
    forge(&shop.job, |_, line| line.replace(&was, &is));
}

/// So that the book fits again: its lines made of the journal as it is now.
fn book_anew(shop: &Shop) {
    fs::remove_file(shop.jobs.join("book.jsonl")).unwrap();
    let begin = crate::audit::bench::standpipe().arg("book").arg(&shop.jobs).arg("--begin").output().unwrap();
    assert!(begin.status.success());
}

fn drop_all(shop: &Shop) {
    fs::remove_dir_all(shop.job.join("signatures")).unwrap();
}

/// Whoever does this has only the key that they made themselves.
fn sign_all(shop: &Shop, whose: fn(&Act) -> (String, u8)) {
    let _ = fs::remove_dir_all(shop.job.join("signatures"));
    for act in acts(&shop.job) {
        let (person, number) = whose(&act);
        act.sign(&shop.job, &pair(&person, number));
    }
}

const AFTERWARDS: &str = "2026-12-02T08:00:00+01:00";

/// As if some signatures had never been made: the book does not have them, nor did it when it was printed.
fn never_signed(shop: &mut Shop, of: &str) {
    shop.printed = book::leave_out(&shop.jobs, |line| line.contains(of));
}

/// Marek's key ends on the day after the job, of which he did not sign the close. Whoever has the key then does, with the time of the
/// act, and puts the signature where it belongs.
fn withdrawn(shop: &mut Shop) {
    let others = fs::read_to_string(&shop.signers).unwrap();
    fs::write(&shop.signers, others.replace("marek ", "marek valid-before=\"20261125Z\" ")).unwrap();
    never_signed(shop, "\"act\":\"close\"");
}

fn back_dated(shop: &Shop) {
    let close = shop.act("close", "marek");
    book::enter(&shop.jobs, &shop.job, &close, &close.at, false);
}

fn cut(shop: &Shop) {
    let path = shop.job.join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    let ends: Vec<usize> = text.match_indices("\"end\":true").map(|(at, _)| at).collect();
    let at = ends[ends.len() - 2];
    let end = at + text[at..].find('\n').unwrap() + 1;
    fs::write(&path, &text[..end]).unwrap();
}

const ATTACKS: &[Attack] = &[
    Attack { name: "nothing", deed: |_| {}, alone: UNCHECKED, listed: NOTHING, printed: NOTHING },
    Attack {
        name: "a line is changed",
        deed: |shop| {
            let path = shop.job.join("journal.jsonl");
            let text = fs::read_to_string(&path).unwrap();
            let (was, is) = reword(&shop.job, "it is dry", "all is dry");
            fs::write(&path, text.replace(&was, &is)).unwrap();
        },
        alone: ["chain of hashes", BROKEN, ""],
        listed: ["chain of hashes", BROKEN, ""],
        printed: ["chain of hashes", BROKEN, ""],
    },
    Attack {
        name: "written anew",
        deed: |shop| rewrite(shop),
        alone: EXCHANGED,
        listed: ["keys", BROKEN, "marek signed a line 332 at"],
        printed: EXCHANGED,
    },
    Attack {
        name: "written anew, the book with it",
        deed: |shop| {
            rewrite(shop);
            book_anew(shop);
        },
        alone: ["keys", BROKEN, "that is not here"],
        listed: ["keys", BROKEN, "that is not here"],
        printed: OTHER_BOOK,
    },
    Attack {
        name: "written anew, the book with it, signatures taken away",
        deed: |shop| {
            rewrite(shop);
            drop_all(shop);
            book_anew(shop);
        },
        alone: ["keys", UNSHOWN, "`close` by marek is not signed by key, which the shop wants"],
        listed: ["keys", UNSHOWN, "`close` by marek is not signed by key, which the shop wants"],
        printed: OTHER_BOOK,
    },
    Attack {
        name: "the same, and nothing said any more of what the shop wants",
        deed: |shop| {
            rewrite(shop);
            with_plan(&shop.job, |plan| plan.replace("\\nby_key: [sign, witness, close]\\n", "\\n"));
            drop_all(shop);
            book_anew(shop);
        },
        // Without a list and a print there is nothing that could tell it from a job of a shop that wants no keys.
        alone: NOTHING,
        listed: ["keys", UNSHOWN, "`close` by marek is not signed by key"],
        printed: OTHER_BOOK,
    },
    Attack {
        name: "written anew and signed by keys of one's own, the book with it",
        deed: |shop| {
            rewrite(shop);
            sign_all(shop, |act| (act.by.clone(), 66));
            book_anew(shop);
        },
        alone: UNCHECKED,
        listed: ["keys", BROKEN, "it is none of marek"],
        printed: OTHER_BOOK,
    },
    Attack {
        name: "written anew by jo, who signs for all by the own key",
        deed: |shop| {
            rewrite(shop);
            sign_all(shop, |_| ("jo".to_owned(), 0));
        },
        alone: EXCHANGED,
        listed: ["keys", BROKEN, "it is none of marek"],
        printed: EXCHANGED,
    },
    Attack {
        name: "cut off",
        deed: |shop| cut(shop),
        alone: ["keys", BROKEN, "marek signed a line 332 at"],
        listed: ["keys", BROKEN, "marek signed a line 332 at"],
        printed: ["book", BROKEN, "was cut off"],
    },
    Attack {
        name: "cut off with its signatures, the book with it",
        deed: |shop| {
            for act in ["sign", "close"] {
                fs::remove_file(shop.act(act, "marek").file(&shop.job)).unwrap();
            }
            cut(shop);
            book_anew(shop);
        },
        alone: ["closed", UNSHOWN, "what came after, if anything did, is not shown"],
        listed: ["closed", UNSHOWN, "what came after, if anything did, is not shown"],
        printed: OTHER_BOOK,
    },
    Attack {
        name: "lines moved",
        deed: |shop| {
            forge_all(&shop.job, |mut lines| {
                lines.swap(20, 21);
                lines
            });
        },
        alone: EXCHANGED,
        listed: ["keys", BROKEN, "that is not here"],
        printed: EXCHANGED,
    },
    Attack {
        name: "a line left out",
        deed: |shop| {
            forge_all(&shop.job, |mut lines| {
                let at = lines.iter().position(|line| line.contains("\"noted\"")).unwrap_or(60);
                lines.remove(at);
                lines
            });
        },
        alone: ["book", BROKEN, "was cut off"],
        listed: ["keys", BROKEN, "that is not here"],
        printed: ["book", BROKEN, "was cut off"],
    },
    Attack {
        name: "evidence exchanged",
        deed: |shop| {
            let mut kept = fs::read_dir(shop.job.join("evidence")).unwrap();
            fs::write(kept.next().unwrap().unwrap().path(), "another picture").unwrap();
        },
        alone: ["evidence", BROKEN, ""],
        listed: ["evidence", BROKEN, ""],
        printed: ["evidence", BROKEN, ""],
    },
    Attack {
        name: "a signature taken away",
        deed: |shop| fs::remove_file(shop.act("sign", "marek").file(&shop.job)).unwrap(),
        alone: GONE,
        listed: GONE,
        printed: GONE,
    },
    Attack {
        name: "a signature in the place of another",
        deed: |shop| {
            let (one, other) = (shop.act("sign", "marek"), shop.act("close", "marek"));
            fs::copy(other.file(&shop.job), one.file(&shop.job)).unwrap();
        },
        alone: ["keys", BROKEN, "it is for something else: `line: 332`, not `line: 331`"],
        listed: ["keys", BROKEN, "it is for something else: `line: 332`, not `line: 331`"],
        printed: ["keys", BROKEN, "it is for something else: `line: 332`, not `line: 331`"],
    },
    Attack {
        name: "a signature of another job",
        deed: |shop| {
            let close = shop.act("close", "marek");
            let text = close.text(&shop.job).replace("\"2026-1101\"", "\"2026-1100\"");
            let signed = armoured(&pair("marek", 0), NAMESPACE, text.as_bytes());
            fs::write(close.file(&shop.job), format!("{text}{signed}")).unwrap();
        },
        alone: ["keys", BROKEN, "it is for something else: `job: \"2026-1100\"`"],
        listed: ["keys", BROKEN, "it is for something else: `job: \"2026-1100\"`"],
        printed: ["keys", BROKEN, "it is for something else: `job: \"2026-1100\"`"],
    },
    Attack {
        name: "another text over a true signature",
        deed: |shop| {
            let file = shop.act("close", "marek").file(&shop.job);
            let text = fs::read_to_string(&file).unwrap();
            fs::write(&file, text.replace("at: 2026-11-24", "at: 2026-11-25")).unwrap();
        },
        alone: ["keys", BROKEN, "it does not sign what it says"],
        listed: ["keys", BROKEN, "it does not sign what it says"],
        printed: ["keys", BROKEN, "it does not sign what it says"],
    },
    Attack {
        name: "a signature for another purpose",
        deed: |shop| {
            let close = shop.act("close", "marek");
            let text = close.text(&shop.job);
            let signed = armoured(&pair("marek", 0), "file", text.as_bytes());
            fs::write(close.file(&shop.job), format!("{text}{signed}")).unwrap();
        },
        alone: ["keys", BROKEN, "made for another purpose, `file`"],
        listed: ["keys", BROKEN, "made for another purpose, `file`"],
        printed: ["keys", BROKEN, "made for another purpose, `file`"],
    },
    Attack {
        name: "the key of another person",
        deed: |shop| shop.act("close", "marek").sign(&shop.job, &pair("rita", 0)),
        alone: OTHER_FILE,
        listed: ["keys", BROKEN, "it is none of marek"],
        printed: ["keys", BROKEN, "it is none of marek"],
    },
    Attack {
        name: "a key that nobody on the list has",
        deed: |shop| shop.act("close", "marek").sign(&shop.job, &pair("marek", 1)),
        alone: OTHER_FILE,
        listed: ["keys", BROKEN, "it is none of marek"],
        printed: ["keys", BROKEN, "it is none of marek"],
    },
    Attack {
        name: "a key that counts from later on",
        deed: |shop| list(&shop.signers, "valid-after=\"20261124120000Z\""),
        alone: UNCHECKED,
        listed: ["keys", BROKEN, "the key of marek was not: valid from 20261124120000Z on (line 3 of the list)"],
        printed: ["keys", BROKEN, "valid from 20261124120000Z on"],
    },
    Attack {
        name: "a key that was withdrawn before",
        deed: |shop| list(&shop.signers, "valid-before=\"20261101Z\""),
        alone: UNCHECKED,
        listed: ["keys", BROKEN, "the key of marek was not: valid until 20261101Z"],
        printed: ["keys", BROKEN, "valid until 20261101Z"],
    },
    Attack {
        name: "a key that was withdrawn, and a time from before the act",
        deed: |shop| {
            list(&shop.signers, "valid-before=\"20261101Z\"");
            never_signed(shop, "");
            for mut act in acts(&shop.job) {
                let file = act.file(&shop.job);
                act.at = "2026-10-31T08:00:00+01:00".to_owned();
                let text = act.text(&shop.job);
                let signed = armoured(&pair(&act.by, 0), NAMESPACE, text.as_bytes());
                fs::write(file, format!("{text}{signed}")).unwrap();
            }
        },
        alone: UNCHECKED,
        listed: ["keys", UNSHOWN, "the clocks disagree"],
        printed: ["keys", UNSHOWN, "the clocks disagree"],
    },
    Attack {
        name: "nothing, and the key was withdrawn since",
        deed: |shop| list(&shop.signers, "valid-before=\"20261125Z\""),
        alone: UNCHECKED,
        listed: NOTHING,
        printed: NOTHING,
    },
    Attack {
        name: "signed by a key that was withdrawn since, with the time of the act",
        deed: withdrawn,
        alone: UNKNOWN,
        listed: UNKNOWN,
        printed: UNKNOWN,
    },
    Attack {
        name: "the same, and entered in the book",
        deed: |shop| {
            withdrawn(shop);
            book::enter(&shop.jobs, &shop.job, &shop.act("close", "marek"), AFTERWARDS, false);
        },
        alone: ["keys", UNSHOWN, "+01:00 by its own word, and was entered in the book at 2026-12-02T08:00:00"],
        listed: [
            "keys",
            BROKEN,
            "entered not before 2026-12-02T08:00:00+01:00 by line 13 of the book: the key of marek was",
        ],
        printed: ["keys", BROKEN, "valid until 20261125Z (line 3 of the list)"],
    },
    Attack {
        name: "the same, as found missing",
        deed: |shop| {
            withdrawn(shop);
            book::enter(&shop.jobs, &shop.job, &shop.act("close", "marek"), AFTERWARDS, true);
        },
        alone: ["keys", UNSHOWN, "1 signature was entered in the book late"],
        listed: ["keys", UNSHOWN, "entered late, not before 2026-12-02T08:00:00+01:00"],
        printed: ["keys", UNSHOWN, "valid until 20261125Z"],
    },
    Attack {
        name: "the same, with the clock set back, after others have entered something",
        deed: |shop| {
            withdrawn(shop);
            let others = shop.act("witness", "jo");
            book::leave_out(&shop.jobs, |line| line.contains(&format!("\"of\":{},", others.line)));
            book::enter(&shop.jobs, &shop.job, &others, AFTERWARDS, true);
            back_dated(shop);
        },
        alone: ["keys", UNSHOWN, "nobody checked"],
        listed: ["keys", BROKEN, "entered not before 2026-12-02T08:00:00+01:00 by line 12 of the book"],
        printed: OTHER_BOOK,
    },
    Attack {
        name: "the same, with the clock set back, after a stamp",
        deed: |shop| {
            withdrawn(shop);
            book::stamp(&shop.jobs, "20261201120000Z");
            back_dated(shop);
        },
        alone: ["stamps", UNSHOWN, "up to line 12 by a stamp"],
        listed: ["keys", UNSHOWN, "not before 2026-12-01T12:00:00+00:00 by the stamp of line 12 of the book"],
        printed: ["keys", UNSHOWN, "valid until 20261125Z"],
    },
    Attack {
        name: "the same, with the clock set back, and nothing is in the book since",
        deed: |shop| {
            withdrawn(shop);
            back_dated(shop);
        },
        // Neither a print nor a line tells when the book went on.
        alone: UNCHECKED,
        listed: NOTHING,
        printed: NOTHING,
    },
    Attack {
        name: "the same, the book written anew",
        deed: |shop| {
            let whole = book::lines(&shop.jobs);
            withdrawn(shop);
            book::write(&shop.jobs, &whole);
            shop.printed = "0".repeat(64);
        },
        alone: UNCHECKED,
        listed: NOTHING,
        printed: OTHER_BOOK,
    },
    Attack {
        name: "a folder of rubbish among the signatures",
        deed: |shop| {
            let folder = shop.job.join("signatures");
            fs::write(folder.join("notes.txt"), "x").unwrap();
            fs::write(folder.join(format!("{}-close", "0".repeat(64))), "x").unwrap();
            fs::create_dir(folder.join(format!("{}-sign", "0".repeat(64)))).unwrap();
            fs::write(shop.act("close", "marek").file(&shop.job), [0xff; 40_000]).unwrap();
        },
        alone: ["keys", BROKEN, "it has more than 16384 bytes"],
        listed: ["keys", BROKEN, "is not a signature of anything here"],
        printed: ["keys", BROKEN, "it has more than 16384 bytes"],
    },
];

/// Whether a look found what it should.
fn expect(attack: &Attack, who: &str, wanted: [&str; 3], journals: &[Json]) {
    let [name, verdict, words] = wanted;
    let all = journals.iter().flat_map(|journal| journal["points"].as_array().unwrap());
    let worst = all.clone().filter(|point| point["verdict"] != "holds");
    if name.is_empty() {
        assert_eq!(worst.clone().count(), 0, "{}, {who}: {:?}", attack.name, worst.collect::<Vec<_>>());
        return;
    }
    let found = all.filter(|point| point["point"] == name);
    let fits = found.clone().any(|point| {
        let messages = point["findings"].as_array().unwrap().iter().map(|it| it["message"].as_str().unwrap());
        point["verdict"] == verdict && messages.into_iter().any(|message| message.contains(words))
    });
    assert!(fits, "{}, {who}: {:?}", attack.name, found.collect::<Vec<_>>());
    let fails = journals.iter().any(|journal| journal["verdict"] == BROKEN);
    assert!(verdict != UNSHOWN || !fails, "{}, {who}: {journals:?}", attack.name);
}

#[test]
fn who_writes_to_the_folder_is_found_by_what_they_can_not_write() {
    let whole = Shop::new();
    assert_eq!(acts(&whole.job).len(), 9);
    for attack in ATTACKS {
        let mut shop = whole.copy();
        (attack.deed)(&mut shop);
        let signers = ["--signers", shop.signers.to_str().unwrap()];
        let (_, alone) = audit(&shop.jobs, &[]);
        expect(attack, "the folder alone", attack.alone, &alone);
        let (_, listed) = audit(&shop.jobs, &signers);
        expect(attack, "with the list", attack.listed, &listed);
        let (_, printed) = audit(&shop.jobs, &[signers.as_slice(), &["--book", &shop.printed]].concat());
        expect(attack, "with the print", attack.printed, &printed);
    }
}

/// A list that two people share a key in is taken as it is written, and said.
#[test]
fn a_key_for_two_people_tells_neither() {
    let shop = Shop::without_book();
    let both = format!("rita,jo,marek {}\n", public(&pair("jo", 0)));
    fs::write(&shop.signers, both).unwrap();
    sign_all(&shop, |_| ("jo".to_owned(), 0));
    let (code, journals) = audit(&shop.job, &["--signers", shop.signers.to_str().unwrap()]);
    let keys = point(&journals[0], "keys");
    assert!(
        code == 0 && keys["verdict"] == UNSHOWN && keys["findings"].to_string().contains("both signed by"),
        "{keys}"
    );
}

/// Keys that were renewed, both good for some days, sign one after the other.
#[test]
fn renewed_keys_go_on_where_the_old_ones_end() {
    let shop = Shop::without_book();
    let key = |number| public(&pair("marek", number));
    let old = format!("marek valid-before=\"20261124120000Z\" {}\n", key(0));
    let new = format!("marek valid-after=\"20261120Z\" {}\n", key(1));
    let rest = fs::read_to_string(&shop.signers).unwrap().replace("marek", "# marek");
    fs::write(&shop.signers, format!("{rest}{old}{new}")).unwrap();
    let signers = ["--signers", shop.signers.to_str().unwrap()];
    assert_eq!(audit(&shop.job, &signers).1[0]["verdict"], "holds");
    // Both of them, in one job.
    shop.act("close", "marek").sign(&shop.job, &pair("marek", 1));
    assert_eq!(audit(&shop.job, &signers).1[0]["verdict"], "holds");
    // Signed later, by the new one.
    let mut act = shop.act("sign", "marek");
    act.at = "2026-12-02T17:00:00+01:00".to_owned();
    act.sign(&shop.job, &pair("marek", 1));
    let (_, journals) = audit(&shop.job, &signers);
    let signed = journals[0]["signed"].as_array().unwrap().iter().find(|it| it["line"] == act.line).unwrap().clone();
    assert_eq!((&signed["standing"], &signed["signed_at"]), (&"signed".into(), &act.at.clone().into()), "{signed}");
    act.sign(&shop.job, &pair("marek", 0));
    assert_eq!(audit(&shop.job, &signers).1[0]["verdict"], BROKEN, "the old one ended before");
    // Clocks may differ by some minutes, and are said to disagree beyond.
    for (at, verdict) in [("2026-11-24T09:51:00+01:00", "holds"), ("2026-11-24T09:50:00+01:00", UNSHOWN)] {
        act.at = at.to_owned();
        act.sign(&shop.job, &pair("marek", 0));
        let (_, journals) = audit(&shop.job, &signers);
        assert_eq!(journals[0]["verdict"], verdict, "{at}: {}", point(&journals[0], "keys"));
    }
}
