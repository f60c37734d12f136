use jiff::tz::TimeZone;
use standpipe_diagnostic::source::Source;
use standpipe_diagnostic::{Code, Problems};
use standpipe_job::Moment;
use standpipe_library::Act;

use crate::patterns::Patterns;
use crate::sshsig::Key;
use crate::{Beside, Deed, Entered, NAMESPACE, Signature, Signers, Standing, Statement, Trust, name_of, read, signed};

/// Made once by `ssh-keygen` of OpenSSH 9.2: `printf 'hello\n' | ssh-keygen -Y sign -n act@standpipe -f KEY`.
const KEY: &str = "AAAAC3NzaC1lZDI1NTE5AAAAIEOWTl0D0Yh8WV2hF8tVFwaxXLcyUEJPc+yijrrtnbwk";
const FINGERPRINT: &str = "SHA256:2gdL1jwLfqVpkKj7RVfVAlDr962rh29+9yyu3LzSxRs";
const HELLO: &str = "-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAADMAAAALc3NoLWVkMjU1MTkAAAAgQ5ZOXQPRiHxZXaEXy1UXBrFctz
JQQk9z7KKOuu2dvCQAAAANYWN0QHN0YW5kcGlwZQAAAAAAAAAGc2hhNTEyAAAAUwAAAAtz
c2gtZWQyNTUxOQAAAECLERQs/giSqfZvGrXa/XWRPRXJ0EL+kqRrAMCUTHt3vNBjlHmLSz
xpPYsUB1P7EZ83nqRKRgUuPb39Zn7aVkEH
-----END SSH SIGNATURE-----
";

#[test]
fn a_signature_of_openssh_holds_for_what_it_was_made_of_and_nothing_else() {
    let signature = Signature::read(HELLO).unwrap();
    assert_eq!((signature.key.to_string().as_str(), signature.namespace.as_str()), (FINGERPRINT, NAMESPACE));
    assert_eq!(signature.key, Key::read(KEY).unwrap());
    assert!(signature.holds(b"hello\n", NAMESPACE));
    assert!(!signature.holds(b"hello", NAMESPACE) && !signature.holds(b"hello\n", "file"));
    let mut renamed = signature.clone();
    renamed.namespace = "file".to_owned();
    assert!(!renamed.holds(b"hello\n", "file"), "the namespace is signed too");
}

/// Whatever single character is changed, left out or doubled: it does not hold any more, or says the same.
#[test]
fn a_damaged_signature_does_not_hold() {
    let whole = Signature::read(HELLO).unwrap();
    for at in 0..HELLO.len() {
        let (before, after) = (&HELLO[..at], &HELLO[at + 1..]);
        for put in ["", "A", "b", "=", "\n", " ", "\u{e9}"] {
            if put == &HELLO[at..=at] {
                continue;
            }
            if let Ok(read) = Signature::read(&format!("{before}{put}{after}")) {
                assert!(read == whole || !read.holds(b"hello\n", NAMESPACE), "{at} {put:?}");
            }
        }
        assert!(Signature::read(before).is_err() || before.trim_end() == HELLO.trim_end(), "{at}");
    }
}

fn list(text: &str) -> (Signers, Problems) {
    Signers::read_in(&Source::new("signers", text), &TimeZone::get("Europe/Rome").unwrap())
}

fn at(text: &str) -> Moment {
    text.parse().unwrap()
}

fn trust(line: &str, person: &str, time: &str) -> Trust {
    let (signers, problems) = list(&line.replace("KEY", &format!("ssh-ed25519 {KEY}")));
    assert!(problems.iter().all(|problem| !problem.is_error()), "{line}: {problems:?}");
    signers.judge(person, Key::read(KEY).unwrap(), at(time))
}

/// Each was tried with `ssh-keygen -Y verify -O verify-time=` of OpenSSH 9.2 too; `tests/program/keys` does it again where there is one.
#[test]
fn a_list_is_understood_as_openssh_understands_it() {
    const NEW_YEAR: &str = "2026-01-01T00:00:00+00:00";
    for (line, person, time, valid) in [
        ("jo KEY", "jo", NEW_YEAR, true),
        ("\"jo\" KEY a comment", "jo", NEW_YEAR, true),
        (" \tjo\t KEY\r", "jo", NEW_YEAR, true),
        ("rita,jo KEY", "jo", NEW_YEAR, true),
        ("j? KEY", "jo", NEW_YEAR, true),
        ("*,!jo KEY", "jo", NEW_YEAR, false),
        ("!jo,* KEY", "jo", NEW_YEAR, false),
        ("!jo,* KEY", "rita", NEW_YEAR, true),
        ("jo namespaces=\"act@*\" KEY", "jo", NEW_YEAR, true),
        ("jo namespaces=\"file\" KEY", "jo", NEW_YEAR, false),
        ("jo NameSpaces=\"file,act@standpipe\" KEY", "jo", NEW_YEAR, true),
        // Both ends count, to the second.
        ("jo valid-before=\"20260101Z\" KEY", "jo", NEW_YEAR, true),
        ("jo valid-before=\"20260101Z\" KEY", "jo", "2026-01-01T00:00:01+00:00", false),
        ("jo valid-after=\"20260101Z\" KEY", "jo", NEW_YEAR, true),
        ("jo valid-after=\"202601010000Z\" KEY", "jo", "2025-12-31T23:59:59+00:00", false),
        ("jo valid-after=\"20260101000001Z\" KEY", "jo", NEW_YEAR, false),
        // The clock of whoever signed may be any: what counts is the moment.
        ("jo valid-before=\"20260101Z\" KEY", "jo", "2026-01-01T00:30:00+01:00", true),
        // Without `Z` by the clock of the computer, an hour before UTC in Rome.
        ("jo valid-before=\"20260101\" KEY", "jo", "2025-12-31T23:00:00+00:00", true),
        ("jo valid-before=\"20260101\" KEY", "jo", "2025-12-31T23:00:01+00:00", false),
        ("jo valid-after=\"20250101Z\",valid-before=\"20260601Z\" KEY", "jo", NEW_YEAR, true),
    ] {
        assert_eq!(trust(line, person, time) == Trust::Valid, valid, "{line} for {person} at {time}");
    }
    assert_eq!(trust("rita KEY", "jo", NEW_YEAR), Trust::NoKey);
    let other = KEY.replace("EOWTl0", "EOWTl1");
    assert_eq!(trust(&format!("rita KEY\njo ssh-ed25519 {other}"), "jo", NEW_YEAR), Trust::Other);
    // A key that was withdrawn and its heir; one that counts in two spans.
    let renewed = format!("jo valid-before=\"20251231Z\" KEY\njo valid-after=\"20251201Z\" ssh-ed25519 {other}");
    assert!(matches!(trust(&renewed, "jo", NEW_YEAR), Trust::NotThen(why) if why.contains("until 20251231Z (line 1")));
    assert_eq!(trust(&renewed, "jo", "2025-12-20T00:00:00+00:00"), Trust::Valid, "while both count");
    let twice = "jo valid-before=\"20250101Z\" KEY\njo valid-after=\"20251201Z\" KEY";
    assert_eq!(trust(twice, "jo", NEW_YEAR), Trust::Valid);
}

#[test]
fn every_bad_line_is_told_at_its_place() {
    let key = format!("ssh-ed25519 {KEY}");
    for (line, column, words) in [
        ("jo".to_owned(), 1, "no kind of key"),
        (key.clone(), 1, "no kind of key"),
        ("jo ssh-ed25519".to_owned(), 4, "the key is missing"),
        (format!("jo ssh-ed25519 {}", &KEY[..KEY.len() - 1]), 16, "not base64, or was cut off"),
        (format!("jo ssh-ed25519 {}", &KEY[..64]), 16, "not 32 bytes"),
        (format!("jo ssh-rsa {KEY}"), 4, "kind `ssh-rsa` are not accepted"),
        (format!("jo sk-ssh-ed25519@openssh.com {KEY}"), 4, "are not accepted"),
        (format!("jo ssh-ed25519-cert-v01@openssh.com {KEY}"), 4, "are not accepted"),
        ("jo ssh-ed25519 AAAAB3NzaC1yc2EAAAABAw==".to_owned(), 16, "key of the kind `ssh-rsa`"),
        (format!("jo cert-authority {key}"), 4, "authorities"),
        (format!("jo valid-before=20270101 {key}"), 4, "no quotes"),
        (format!("jo namespaces {key}"), 4, "no value"),
        (format!("jo namespaces=\"\" {key}"), 4, "names no purpose"),
        (format!("jo namespaces=\"act@standpipe\",valid-befor=\"20270101Z\" {key}"), 31, "no option `valid-befor`"),
        (format!("jo valid-after=\"20270101Z\",valid-after=\"20270101Z\" {key}"), 28, "is here twice"),
        (format!("jo valid-after=\"2027-01-01\" {key}"), 4, "is not a time"),
        (format!("jo valid-after=\"20271301Z\" {key}"), 4, "is not a time"),
        (format!("jo valid-after=\"2027010112Z\" {key}"), 4, "is not a time"),
        (format!("jo valid-after=\"20270101Z\",valid-before=\"20260101Z\" {key}"), 1, "before it starts"),
        (format!("jo,, {key}"), 1, "names nobody"),
        (format!("jo namespaces=\"file {key}"), 1, "a quote is not closed"),
    ] {
        let text = format!("# people\n\nrita {key}\n{line}\nmarek {key}\n");
        let (signers, problems) = list(&text);
        let [problem] = problems.as_slice() else { panic!("{line}: {problems:?}") };
        assert!(
            problem.is_error() && problem.code == Code::FaultySigners && problem.message.contains(words),
            "{line}: {}",
            problem.message
        );
        assert_eq!((problem.place.line(), problem.place.column()), (4, column), "{line}");
        assert!(
            problem.help.is_some() && signers.knows("rita") && signers.knows("marek") && !signers.knows("jo"),
            "{line}"
        );
    }
    let (_, problems) = list(&format!("jo valid-before=\"20270101\" {key}"));
    assert!(problems.len() == 1 && !problems[0].is_error() && problems[0].message.contains("clock"), "{problems:?}");
}

#[test]
fn patterns_are_those_of_openssh() {
    for (pattern, text, fit) in [
        ("*", "", true),
        ("?", "", false),
        ("a*b*c", "aXXbYYbc", true),
        ("a*b*c", "aXXbYY", false),
        ("*a", "aaaab", false),
        ("**", "x", true),
        ("jo", "Jo", false),
        ("!jo", "rita", false),
    ] {
        assert_eq!(Patterns::read(pattern).unwrap().fit(text), fit, "{pattern} {text}");
    }
    // Not in years.
    assert!(!Patterns::read(&"a*".repeat(2_000)).unwrap().fit(&"a".repeat(1_999)));
}

/// What stands in a file is compared with what the line says, before any key is looked at.
#[test]
fn a_signature_fits_one_act_of_one_job() {
    let deed = Deed { line: 2, act: Act::Sign, by: "jo".to_owned(), at: at("2026-11-05T10:00:00+01:00") };
    let heads = ["a".repeat(64), "b".repeat(64)];
    let statement = Statement { job: "7\nact: close", deed: &deed, head: &heads[1], at: deed.at };
    let text = statement.text();
    assert_eq!(text.lines().count(), 7, "{text}");
    let bytes = format!("{text}{HELLO}").into_bytes();
    assert_eq!(read(&bytes).unwrap().0, text);
    let judged = |job: &str, deed: &Deed| {
        let file = Beside { name: name_of(&heads[1], deed.act), bytes: Ok(bytes.clone()) };
        signed(job, std::slice::from_ref(deed), &heads, &[file], None, &Entered::new()).0.remove(0).standing
    };
    let why = |standing| match standing {
        Standing::Broken(why) => why,
        other => panic!("{other:?}"),
    };
    // HELLO was made of something else, which is the last thing that is found.
    assert!(why(judged("7\nact: close", &deed)).contains("does not sign what it says"));
    assert!(why(judged("8", &deed)).contains("`job: "));
    let other = |deed: Deed| why(judged("7\nact: close", &deed));
    assert!(other(Deed { by: "rita".to_owned(), ..deed.clone() }).contains("by: "));
    assert!(other(Deed { act: Act::Close, ..deed.clone() }).contains("act: sign"));
    let (all, _) = signed("7", &[Deed { line: 1, ..deed.clone() }], &heads, &[], None, &Entered::new());
    assert_eq!(all[0].standing, Standing::Unsigned);
}
