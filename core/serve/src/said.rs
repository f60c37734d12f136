//! What a device says of a job: one posted form, read into what is wanted. Nothing of it is believed yet.

use indexmap::IndexMap;

use standpipe_job::{InputId, On};

/// A form as it was posted: names and values, in order.
pub type Fields = Vec<(String, String)>;

/// Longer than anything a person types into one field.
const LONGEST: usize = 4000;

#[derive(Clone, Debug)]
pub struct Said {
    /// Of the form that was sent: the same when it is sent again.
    pub id: InputId,
    pub on: Option<On>,
    /// Seconds between the tap and the sending, where it had to wait.
    pub age: u32,
    pub wanted: Wanted,
}

#[derive(Clone, Debug)]
pub enum Wanted {
    /// Write to the job from here, begun if it is new; and look at it and go on, where somebody was at it.
    Take,
    Enter(Answer),
    /// The reader is connected to the work of this job.
    Connect,
    /// The clock of a hold runs from now on.
    Begin,
    /// It was held to the end, or broken off.
    Held {
        whole: bool,
    },
    Accept {
        because: String,
    },
    Correct {
        entry: u64,
        name: String,
        value: String,
        because: String,
    },
    Supply {
        path: String,
        value: String,
        source: String,
    },
    Skip {
        because: String,
    },
    Call {
        procedure: String,
    },
    TakeBack,
    Pause,
    Note(String),
    Abandon {
        because: String,
    },
    /// The witness has looked: it is so, or it is not.
    Looked {
        so: bool,
    },
    /// Who was asked to look is not waited for any more.
    Withdraw,
}

/// What was entered for a step.
#[derive(Clone, Debug, Default)]
pub struct Answer {
    pub typed: IndexMap<String, String>,
    /// Unit of a bare number.
    pub units: IndexMap<String, String>,
    pub with: IndexMap<String, String>,
    pub witness: Witness,
    /// It stands for all that is left of the pass.
    pub rest: bool,
    /// What is not typed is taken from the reader.
    pub reader: bool,
    /// What is not typed is as the shop file has the scale of this instrument.
    pub scale: Option<String>,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Witness {
    #[default]
    None,
    /// They look here; their name is said.
    Here(String),
    /// They are asked on a device of their own.
    Asked(String),
}

/// What is said against a form that holds more than anybody types.
pub fn too_long(fields: &Fields) -> Option<String> {
    let (name, _) = fields.iter().find(|(_, value)| value.chars().count() > LONGEST)?;
    Some(format!("`{name}` is longer than {LONGEST} characters"))
}

/// A bare number with the unit that was chosen beside it. Whoever types a unit means that one.
pub fn with_unit(typed: &str, unit: Option<&str>) -> String {
    let bare = typed.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | ' '));
    match unit.filter(|_| bare && !typed.is_empty()) {
        Some(unit) => format!("{typed} {unit}"),
        None => typed.to_owned(),
    }
}

/// Reads a form. Errors: what is missing, in words.
pub fn read(fields: &Fields) -> Result<Said, String> {
    if let Some(fault) = too_long(fields) {
        return Err(fault);
    }
    let get = |name: &str| fields.iter().find(|(known, _)| known == name).map(|(_, value)| value.trim().to_owned());
    let need =
        |name: &str, what: &str| get(name).filter(|it| !it.is_empty()).ok_or_else(|| format!("{what} is missing"));
    let because = || need("because", "the reason");
    let wanted = match get("what").as_deref() {
        Some("take") => Wanted::Take,
        Some("enter") => Wanted::Enter(answer(fields)),
        Some("connect") => Wanted::Connect,
        Some("begin") => Wanted::Begin,
        Some("held") => Wanted::Held { whole: get("whole").as_deref() == Some("yes") },
        Some("accept") => Wanted::Accept { because: because()? },
        Some("correct") => Wanted::Correct {
            entry: need("entry", "the entry")?.parse().map_err(|_| "the entry has no such number".to_owned())?,
            name: need("name", "the name")?,
            value: need("value", "the new value")?,
            because: because()?,
        },
        Some("supply") => Wanted::Supply {
            path: need("path", "the fact")?,
            value: need("value", "the value")?,
            source: need("source", "the source")?,
        },
        Some("skip") => Wanted::Skip { because: because()? },
        Some("call") => Wanted::Call { procedure: need("procedure", "what is wrong")? },
        Some("take-back") => Wanted::TakeBack,
        Some("pause") => Wanted::Pause,
        Some("note") => Wanted::Note(need("text", "the note")?),
        Some("abandon") => Wanted::Abandon { because: because()? },
        Some("looked") => Wanted::Looked { so: get("so").as_deref() == Some("yes") },
        Some("withdraw") => Wanted::Withdraw,
        _ => return Err("the form does not say what is wanted".to_owned()),
    };
    let id = need("id", "the id of the form")?.parse()?;
    let on = match (get("asks").filter(|asks| !asks.is_empty()), get("since")) {
        (Some(asks), Some(since)) => {
            Some(On { asks, since: since.parse().map_err(|_| "the form has no sound number of events".to_owned())? })
        }
        _ => None,
    };
    Ok(Said { id, on, age: get("age").and_then(|age| age.parse().ok()).unwrap_or(0), wanted })
}

fn answer(fields: &Fields) -> Answer {
    let of = |kind: &str| {
        let named = fields.iter().filter_map(|(name, value)| Some((name.strip_prefix(kind)?, value.trim())));
        named.filter(|(_, value)| !value.is_empty()).map(|(name, value)| (name.to_owned(), value.to_owned())).collect()
    };
    let says = |wanted: &str| fields.iter().any(|(name, value)| name == wanted && value == "yes");
    let scale = fields.iter().find(|(name, value)| name == "scale" && !value.is_empty());
    let witness = fields.iter().find(|(name, _)| name == "witness").map(|(_, value)| value.as_str());
    Answer {
        typed: of("f."),
        units: of("u."),
        with: of("w."),
        witness: match witness.unwrap_or_default().split_once('@') {
            Some((who, "own")) => Witness::Asked(who.to_owned()),
            Some((who, _)) => Witness::Here(who.to_owned()),
            None => Witness::None,
        },
        rest: says("rest"),
        reader: says("reader"),
        scale: scale.map(|(_, id)| id.clone()),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn fields(text: &str) -> Fields {
        form_urlencoded::parse(text.as_bytes()).into_owned().collect()
    }

    const ID: &str = "id=000102030405060708090a0b0c0d0e0f";

    #[test]
    fn an_answer_has_its_values_units_instruments_and_what_it_was_made_on() {
        let said = read(&fields(&format!(
            "what=enter&{ID}&asks=warm&since=7&f.heat=38%2C6&u.heat=degC&w.heat=reader&f.note=&witness=jo%40own"
        )))
        .unwrap();
        assert_eq!(said.on, Some(On { asks: "warm".to_owned(), since: 7 }));
        let Wanted::Enter(answer) = said.wanted else { panic!("{:?}", said.wanted) };
        assert_eq!(answer.typed["heat"], "38,6");
        assert_eq!(answer.units["heat"], "degC");
        assert_eq!(answer.with["heat"], "reader");
        assert!(!answer.typed.contains_key("note"), "what was left empty was not said");
        assert_eq!(answer.witness, Witness::Asked("jo".to_owned()));
    }

    #[test]
    fn what_is_missing_is_named() {
        assert_eq!(read(&fields(&format!("what=accept&{ID}&because=+"))).unwrap_err(), "the reason is missing");
        assert!(read(&fields("what=pause")).unwrap_err().contains("id"));
        assert!(read(&fields(&format!("what=dance&{ID}"))).is_err());
        let long = "x".repeat(LONGEST + 1);
        assert!(read(&fields(&format!("what=note&{ID}&text={long}"))).unwrap_err().contains("longer"));
    }
}
