//! The entry for one step while it is being made: what is asked next, and what has been answered so far.

use indexmap::IndexMap;

use super::from_log::Logged;
use standpipe_job::{AnswerKind, Entry, EvidenceRef, Photo, Prompt, PromptField, ReadFrom, Refusal, TakenFrom, Unfit};

/// One thing to ask for an entry. Numbers are those of the prompt's fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Which instrument, where there are several.
    With(usize),
    /// Whose scale it is that this value is an end of.
    Scale(usize),
    Field(usize),
    Witness,
    Photo,
}

#[derive(Clone, Debug, Default)]
pub struct Draft {
    /// The ask that it belongs to; for another one a new draft is begun.
    pub asks: String,
    stages: Vec<Stage>,
    at: usize,
    pub typed: IndexMap<String, String>,
    pub with: IndexMap<String, String>,
    /// For each kind of instrument whose scale is asked for: the one at hand, or none that the shop knows.
    pub scales: IndexMap<String, Option<String>>,
    pub witness: Option<String>,
    pub evidence: Vec<EvidenceRef>,
    /// It stands for all that is left of the pass.
    pub rest: bool,
    /// Who signs, if that is not who works.
    pub signer: Option<String>,
    /// Values that were taken from a reader.
    pub read: IndexMap<String, TakenFrom>,
    /// The rows that they were taken from, or that came meanwhile.
    pub rows: Option<Box<ReadFrom>>,
    /// Values that were taken from a log; one entry has one time and one log.
    pub logged: Option<Logged>,
}

impl Draft {
    /// `alone`: there is nobody else who could look.
    pub fn new(prompt: &Prompt, alone: bool) -> Self {
        let mut stages = Vec::new();
        let mut kinds: Vec<&str> = Vec::new();
        let mut scales = IndexMap::new();
        for (index, field) in prompt.fields.iter().enumerate() {
            if let Some(kind) = field.with.as_deref()
                && field.instruments.len() > 1
                && !kinds.contains(&kind)
            {
                kinds.push(kind);
                stages.push(Stage::With(index));
            }
            if let Some(kind) =
                field.end_of.as_ref().filter(|kind| !field.ends.is_empty() && !scales.contains_key(*kind))
            {
                let one = field.ends.keys().next().filter(|_| field.ends.len() == 1);
                if one.is_none() {
                    stages.push(Stage::Scale(index));
                }
                scales.insert(kind.clone(), one.cloned());
            }
            stages.push(Stage::Field(index));
        }
        if prompt.witness.is_some() && !alone {
            stages.push(Stage::Witness);
        }
        if prompt.evidence == Some(Photo::Required) {
            stages.push(Stage::Photo);
        }
        Self { asks: prompt.asks.clone(), stages, scales, ..Self::default() }
    }

    /// What to ask next; `None` when the entry is complete.
    pub fn stage(&self) -> Option<Stage> {
        self.stages.get(self.at).copied()
    }

    /// What is asked now, and what follows.
    pub(super) fn ahead(&self) -> &[Stage] {
        &self.stages[self.at..]
    }

    /// On to the next stage.
    pub fn next(&mut self) {
        self.at = (self.at + 1).min(self.stages.len());
        if self.stage() == Some(Stage::Photo) && !self.evidence.is_empty() {
            self.at += 1;
        }
    }

    /// One stage back; `false` at the first.
    pub fn back(&mut self) -> bool {
        let first = self.at == 0;
        self.at = self.at.saturating_sub(1);
        !first
    }

    /// Back to what was refused: the field, the instruments, the photo, or the first stage.
    pub fn refused(&mut self, prompt: &Prompt, refusal: &Refusal) {
        self.rest = false;
        let named = prompt.fields.iter().find(|field| refusal.field.as_ref() == Some(&field.name));
        let wanted = |stage: &Stage| match (stage, refusal.unfit) {
            (Stage::With(index), Unfit::Instrument) => named.is_none_or(|it| it.with == prompt.fields[*index].with),
            (Stage::Field(index), _) => named.is_some_and(|it| it.name == prompt.fields[*index].name),
            (Stage::Witness, Unfit::Person) => named.is_none(),
            (Stage::Photo, Unfit::Evidence) => true,
            _ => false,
        };
        self.at = self.stages.iter().position(wanted).unwrap_or(0);
    }

    /// What was typed at this stage before the entry was refused or somebody went back to it.
    pub fn recalled(&self, prompt: &Prompt) -> &str {
        let typed = match self.stage() {
            Some(Stage::Field(index)) if prompt.fields[index].options.is_empty() => {
                self.typed.get(&prompt.fields[index].name).map(String::as_str)
            }
            Some(Stage::Witness) => self.witness.as_deref(),
            _ => None,
        };
        typed.unwrap_or_default()
    }

    /// A value as a log has it. One of another log or another time goes: it is asked again.
    pub fn log(&mut self, field: &PromptField, typed: String, mut logged: Logged) {
        if let Some(before) = self.logged.take() {
            if before.at == logged.at && before.read.rows == logged.read.rows {
                logged.read.said.extend(before.read.said);
                for (name, taken) in before.read.values {
                    logged.read.values.entry(name).or_insert(taken);
                }
            } else {
                before.read.values.keys().for_each(|name| drop(self.typed.shift_remove(name)));
            }
        }
        self.logged = Some(logged);
        self.typed.insert(field.name.clone(), typed);
    }

    /// It was typed after all.
    pub fn unlog(&mut self, name: &str) {
        if let Some(logged) = &mut self.logged {
            logged.read.values.shift_remove(name);
        }
        self.logged.take_if(|logged| logged.read.values.is_empty());
    }

    /// The instrument chosen holds for every value of this entry that is read with its kind.
    pub fn use_instrument(&mut self, prompt: &Prompt, index: usize, instrument: &str) {
        let kind = &prompt.fields[index].with;
        for field in prompt.fields.iter().filter(|field| field.with == *kind) {
            self.with.insert(field.name.clone(), instrument.to_owned());
        }
    }

    pub fn entry(&self, prompt: &Prompt) -> Entry {
        let given = |name: &&PromptField| name.kind != AnswerKind::Done;
        Entry {
            step: prompt.address.step.clone(),
            item: prompt.item.clone().filter(|_| !self.rest),
            typed: prompt
                .fields
                .iter()
                .filter(given)
                .filter_map(|field| Some((field.name.clone(), self.typed.get(&field.name)?.clone())))
                .filter(|(_, typed)| !typed.is_empty())
                .collect(),
            with: self.with.clone(),
            witness: self.witness.clone(),
            evidence: self.evidence.clone(),
            read: self.rows.clone(),
        }
    }

    /// What has been answered before the present stage, in one line.
    pub fn so_far(
        &self,
        prompt: &Prompt,
        name_of: &dyn Fn(&str) -> String,
        instrument: &dyn Fn(&str) -> String,
    ) -> Vec<String> {
        let mut given: Vec<String> = Vec::new();
        for stage in &self.stages[..self.at] {
            match stage {
                Stage::With(index) => {
                    given.extend(
                        self.with.get(&prompt.fields[*index].name).map(|id| format!("with {}", instrument(id))),
                    );
                }
                Stage::Scale(index) => {
                    let kind = prompt.fields[*index].end_of.as_ref();
                    let id = kind.and_then(|kind| self.scales.get(kind)?.as_ref());
                    given.extend(id.map(|id| format!("scale of {}", instrument(id))));
                }
                Stage::Field(index) => given.extend(self.field_given(&prompt.fields[*index])),
                Stage::Witness => given.extend(self.witness.as_ref().map(|id| format!("seen by {}", name_of(id)))),
                Stage::Photo => {}
            }
        }
        if !self.evidence.is_empty() {
            let names: Vec<&str> = self.evidence.iter().map(|evidence| evidence.name.as_str()).collect();
            given.push(format!("photo {}", names.join(", ")));
        }
        if given.is_empty() { Vec::new() } else { vec![format!("So far: {}", given.join(", "))] }
    }

    fn field_given(&self, field: &PromptField) -> Option<String> {
        let typed = self.typed.get(&field.name)?;
        let option = field.options.iter().find(|(id, _)| id == typed && field.kind.is_of_people());
        let shown = option.and_then(|(_, name)| name.clone());
        let name = field.name.replace('_', " ");
        match (field.kind, typed.as_str()) {
            (AnswerKind::Done, _) => Some("done".to_owned()),
            (_, "") => Some(format!("{name} left out")),
            (AnswerKind::Quantity, typed) if typed.parse::<f64>().is_ok() => {
                let unit = field.unit.as_ref().map(|unit| format!(" {unit}"));
                Some(format!("{name} {typed}{}", unit.unwrap_or_default()))
            }
            (_, typed) => Some(format!("{name} {}", shown.as_deref().unwrap_or(typed))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_diagnostic::Code;
    use standpipe_job::Address;

    fn field(name: &str, kind: AnswerKind) -> PromptField {
        PromptField {
            name: name.to_owned(),
            ask: name.to_owned(),
            kind,
            quantity: None,
            unit: None,
            options: Vec::new(),
            with: None,
            instruments: Vec::new(),
            end_of: None,
            ends: IndexMap::new(),
            optional: false,
            expected: String::new(),
        }
    }

    fn prompt() -> Prompt {
        let mut warm = field("warm", AnswerKind::Quantity);
        warm.with = Some("reader".to_owned());
        warm.instruments = vec!["a".to_owned(), "b".to_owned()];
        let mut later = warm.clone();
        later.name = "later".to_owned();
        Prompt {
            address: Address::step("s", &[]),
            asks: "s".to_owned(),
            title: "Read it".to_owned(),
            text: None,
            kind: "read".to_owned(),
            item: None,
            label: None,
            count: None,
            fields: vec![warm, later],
            cautions: Vec::new(),
            why: None,
            show: Vec::new(),
            round: None,
            position: (1, 1),
            hold: None,
            within: None,
            limits: Vec::new(),
            evidence: Some(Photo::Required),
            witness: Some("The marks".to_owned()),
            at_stake: None,
            attempts: 0,
            last: None,
            again: None,
            spared: false,
            turned: Vec::new(),
        }
    }

    #[test]
    fn an_instrument_is_asked_once_for_its_kind_then_values_witness_and_photo() {
        let prompt = prompt();
        let mut draft = Draft::new(&prompt, false);
        assert_eq!(draft.stage(), Some(Stage::With(0)));
        draft.use_instrument(&prompt, 0, "b");
        draft.next();
        assert_eq!(draft.stage(), Some(Stage::Field(0)));
        draft.typed.insert("warm".to_owned(), "38".to_owned());
        draft.next();
        assert_eq!(draft.stage(), Some(Stage::Field(1)));
        draft.typed.insert("later".to_owned(), "39".to_owned());
        draft.next();
        assert_eq!(draft.stage(), Some(Stage::Witness));
        draft.witness = Some("jo".to_owned());
        draft.next();
        assert_eq!(draft.stage(), Some(Stage::Photo));
        assert_eq!(
            draft.so_far(&prompt, &str::to_owned, &str::to_owned),
            ["So far: with b, warm 38, later 39, seen by jo"]
        );
        draft.next();
        assert_eq!(draft.stage(), None);
        let entry = draft.entry(&prompt);
        assert_eq!(entry.with["later"], "b");
        assert_eq!(entry.typed["warm"], "38");
        assert_eq!(entry.witness.as_deref(), Some("jo"));
    }

    #[test]
    fn who_is_alone_is_not_asked_for_a_witness() {
        let draft = Draft::new(&prompt(), true);
        assert!(!draft.stages.contains(&Stage::Witness));
    }

    #[test]
    fn a_refusal_leads_back_to_its_field_with_what_was_typed() {
        let prompt = prompt();
        let mut draft = Draft::new(&prompt, true);
        draft.typed.insert("warm".to_owned(), "380".to_owned());
        draft.typed.insert("later".to_owned(), "39".to_owned());
        let misread = Refusal::new(Code::UnfitAnswer, "found `380`").unfit(Unfit::Value).of("warm");
        draft.refused(&prompt, &misread);
        assert_eq!(draft.stage(), Some(Stage::Field(0)));
        assert_eq!(draft.recalled(&prompt), "380");
        assert!(draft.back());
        assert_eq!(draft.stage(), Some(Stage::With(0)));
        assert!(!draft.back());
        draft.refused(&prompt, &Refusal::new(Code::UnfitInstrument, "`a` is not a reader").of("later"));
        assert_eq!(draft.stage(), Some(Stage::With(0)));
        // A message that happens to name another field leads nowhere else.
        draft.refused(&prompt, &Refusal { message: "`later`, not `warm`".to_owned(), ..misread.of("later") });
        assert_eq!(draft.stage(), Some(Stage::Field(1)));
        draft.refused(&prompt, &Refusal::new(Code::UnfitAnswer, "one is needed").unfit(Unfit::Evidence));
        assert_eq!(draft.stage(), Some(Stage::Photo));
    }

    #[test]
    fn a_photo_attached_before_is_not_asked_again() {
        let prompt = prompt();
        let mut draft = Draft::new(&prompt, true);
        draft.evidence.push(EvidenceRef { sha256: "00".to_owned(), name: "marks.jpg".to_owned(), of: None });
        for _ in 0..3 {
            draft.next();
        }
        assert_eq!(draft.stage(), None);
    }
}
