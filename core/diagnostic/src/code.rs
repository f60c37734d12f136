//! The permanent codes. A code is never reused for something else.
//!
//! Words, not letters and digits: those are trouble codes to people who repair vehicles.

use std::fmt;

use serde::{Serialize, Serializer};

macro_rules! codes {
    ($($code:ident $name:literal $meaning:literal),+ $(,)?) => {
        /// A permanent name for one kind of message.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code { $($code),+ }

        impl Code {
            /// Every code, in the order of the table above.
            pub const ALL: &'static [Code] = &[$(Code::$code),+];

            /// As it is written in messages: `unknown-key`.
            pub fn name(self) -> &'static str {
                match self { $(Code::$code => $name),+ }
            }

            /// One line that says what the code means.
            pub fn meaning(self) -> &'static str {
                match self { $(Code::$code => $meaning),+ }
            }
        }
    };
}

codes! {
    // files
    UnreadableFile "unreadable-file" "a file can't be read",
    NotText "not-text" "a file is not text, or too large",
    OutsidePlugin "outside-plugin" "a path leaves its plugin's folder",
    StrayFile "stray-file" "a file or folder that nothing reads",
    Unwritable "unwritable" "a file or folder can't be written",
    // the shape of a YAML file
    InvalidYaml "invalid-yaml" "not valid YAML",
    DuplicateKey "duplicate-key" "a key appears twice",
    UnknownKey "unknown-key" "an unknown key",
    MissingKey "missing-key" "a key is missing",
    WrongShape "wrong-shape" "a value of another kind than expected",
    TagOrAnchor "tag-or-anchor" "a tag, an anchor or an alias",
    NonFiniteLiteral "non-finite-literal" "a number that is not finite",
    TwoFacedWord "two-faced-word" "a word that YAML versions read differently",
    TabIndent "tab-indent" "a tab in the indentation",
    // quantities and units
    UnknownUnit "unknown-unit" "an unknown unit",
    AmbiguousQuantity "ambiguous-quantity" "an ambiguous unit or number",
    WrongQuantity "wrong-quantity" "a quantity of another kind than asked for",
    NotAQuantity "not-a-quantity" "not a quantity",
    FaultyUnits "faulty-units" "a faulty definition of a unit family",
    // plugins and how they lie over one another
    NoManifest "no-manifest" "a plugin has no usable manifest",
    DuplicatePlugin "duplicate-plugin" "two plugins with one id",
    MissingPlugin "missing-plugin" "a plugin needs another that is not there",
    DefinedTwice "defined-twice" "something is defined twice without being an override",
    OverridesNothing "overrides-nothing" "an override of something that does not exist",
    UnknownReference "unknown-reference" "a reference to something that does not exist",
    FaultyTable "faulty-table" "a table with a fault",
    MisplacedId "misplaced-id" "an id that is not that of its file, or can't be one",
    // forms and families
    UnknownField "unknown-field" "a field that the form does not know",
    MissingField "missing-field" "a required field is missing",
    UnfitValue "unfit-value" "a value does not fit its field",
    ImplausibleValue "implausible-value" "a value outside what is plausible",
    ConflictingValues "conflicting-values" "values of a family that do not fit one another",
    VariantWithoutSign "variant-without-sign" "a variant without a sign to tell it by",
    MissingSource "missing-source" "a value without a source",
    ReversedRange "reversed-range" "a range whose low end lies above its high end",
    FaultyForm "faulty-form" "a faulty form",
    // procedures
    StepKind "step-kind" "a step has no kind, or more than one",
    DuplicateStep "duplicate-step" "two steps with one id",
    IncludeCycle "include-cycle" "a cycle of included procedures",
    UnknownCallee "unknown-callee" "an unknown procedure, sheet or person's role",
    UnfitStep "unfit-step" "a step uses something that does not fit its kind",
    FaultyExpression "faulty-expression" "an expression with a fault",
    FoldedBlock "folded-block" "a block style in which places would be lost",
    ReservedName "reserved-name" "a name that scripts can't use",
    UnmetNeed "unmet-need" "a procedure needs something the family does not have",
    UsedTooEarly "used-too-early" "a name is used before the step that gives it",
    NeverMet "never-met" "a gate that can never be met",
    NeverRuns "never-runs" "a step that can never run",
    UnknownOption "unknown-option" "a comparison with an option that does not exist",
    DeadPlaceholder "dead-placeholder" "a placeholder that leads nowhere",
    UnraisedEvent "unraised-event" "an event that no step raises",
    FaultyPage "faulty-page" "a card, record or picture speaks of what is not there",
    // scripts
    FaultyScript "faulty-script" "a script with a fault",
    UnknownName "unknown-name" "a name that a script does not know",
    DimensionClash "dimension-clash" "values of different dimensions",
    ScriptLimit "script-limit" "a script went past its limits",
    ForbiddenInScript "forbidden-in-script" "something that scripts may not do",
    NonFiniteResult "non-finite-result" "a number that is not finite",
    // sheets
    FaultySheet "faulty-sheet" "a faulty sheet",
    FaultyInput "faulty-input" "an input is missing or unknown to the sheet",
    InputBeyondLimit "input-beyond-limit" "an input outside its limits",
    InputBeyondValidity "input-beyond-validity" "an input outside the range in which the formula holds",
    ResultNotShown "result-not-shown" "a result that is not shown, because something it needs is not known",
    // jobs, answers and journals
    FaultyJob "faulty-job" "a faulty job file",
    UnfitAnswer "unfit-answer" "an answer that does not fit what was asked",
    AnswersLeftOver "answers-left-over" "answers left over",
    BrokenJournal "broken-journal" "a journal that does not hold",
    NewerVersion "newer-version" "a job that a newer version has written",
    BrokenBook "broken-book" "a book of jobs that does not hold or can't be written",
    FaultySigners "faulty-signers" "a list of signers with a fault",
    NotSigned "not-signed" "an act that could not be signed by key",
    JournalInUse "journal-in-use" "a journal in use by another",
    UnknownPerson "unknown-person" "a person or role that the shop does not know",
    UnfitInstrument "unfit-instrument" "an instrument that does not fit",
    TimeReversed "time-reversed" "time going backwards",
    FilesChanged "files-changed" "files changed since the job was planned",
    MissingAnswer "missing-answer" "an answer is missing",
    // overlays
    ChangeWithoutTarget "change-without-target" "a change of an overlay that does not say what it changes",
    UnknownStep "unknown-step" "an overlay speaks of a step that is not there",
    LoosensKept "loosens-kept" "an overlay removes or loosens what is marked to be kept",
    UnfitChange "unfit-change" "a change of an overlay that does not fit what it changes",
    LeavesOutNeeded "leaves-out-needed" "an overlay leaves out what other steps rest on",
    // the workshop's own file
    FaultyShop "faulty-shop" "a faulty shop file",
    VacantRole "vacant-role" "a role that nobody in the shop has",
    MissingInstrument "missing-instrument" "a kind of instrument that the shop lacks",
    // logs of readings
    UnreadableLog "unreadable-log" "a log that can't be read",
    UnclearLog "unclear-log" "a log that leaves open how it is meant",
    FaultyLogDescription "faulty-log-description" "a faulty description of logs",
    // cases
    FaultyCase "faulty-case" "a faulty case",
    NoCase "no-case" "a plugin without a case",
    CaseFails "case-fails" "a case that does not hold",
    // models and people
    FaultyModel "faulty-model" "a faulty model, or faulty people",
    InterpretedModel "interpreted-model" "a model that only the interpreter can work out",
    ModelFails "model-fails" "a model that can't go on",
    // arguments
    WrongArguments "wrong-arguments" "wrong arguments",
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Serialize for Code {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}
