//! The permanent codes. A code is never reused for something else; its letter names the area.

use std::fmt;

use serde::{Serialize, Serializer};

macro_rules! codes {
    ($($code:ident $meaning:literal),+ $(,)?) => {
        /// A permanent name for one kind of message.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code { $($code),+ }

        impl Code {
            pub const ALL: &'static [Code] = &[$(Code::$code),+];

            pub fn name(self) -> &'static str {
                match self { $(Code::$code => stringify!($code)),+ }
            }

            /// One line that says what the code means.
            pub fn meaning(self) -> &'static str {
                match self { $(Code::$code => $meaning),+ }
            }
        }
    };
}

codes! {
    // F: files
    F001 "a file can't be read",
    F002 "a file is not text, or too large",
    F003 "a path leaves its plugin's folder",
    F004 "a file or folder that nothing reads",
    F005 "a file or folder can't be written",
    // Y: the shape of a YAML file
    Y001 "not valid YAML",
    Y002 "a key stands twice",
    Y003 "an unknown key",
    Y004 "a key is missing",
    Y005 "a value of another kind than expected",
    Y006 "a tag, an anchor or an alias",
    Y007 "a number that is not finite",
    Y008 "a word that YAML versions read differently",
    Y009 "a tab in the indentation",
    // Q: quantities and units
    Q001 "an unknown unit",
    Q002 "an ambiguous unit or number",
    Q003 "a quantity of another kind than asked for",
    Q004 "not a quantity",
    Q005 "a faulty definition of a unit family",
    // L: plugins and how they lie over one another
    L001 "a plugin has no usable manifest",
    L002 "two plugins with one id",
    L003 "a plugin needs another that is not there",
    L004 "something is defined twice without being an override",
    L005 "an override of something that does not exist",
    L006 "a reference to something that does not exist",
    L007 "a table with a fault",
    L008 "an id that is not that of its file, or can't be one",
    // M: forms and families
    M001 "a field that the form does not know",
    M002 "a required field is missing",
    M003 "a value does not fit its field",
    M004 "a value outside what is plausible",
    M005 "a variant without a sign to tell it by",
    M006 "a value without a source",
    M007 "a range whose low end lies above its high end",
    M008 "a faulty form",
    // P: procedures
    P001 "a step has no kind, or more than one",
    P002 "two steps with one id",
    P003 "a cycle of included procedures",
    P004 "an unknown procedure, sheet or person's role",
    P005 "a step uses something that does not fit its kind",
    P006 "an expression with a fault",
    P007 "a block style in which places would be lost",
    P008 "a name that scripts can't use",
    P009 "a procedure needs something the family does not have",
    P010 "a name is used before the step that gives it",
    P011 "a gate that can never be met",
    P012 "a step that can never run",
    P013 "a comparison with an option that does not exist",
    P014 "a placeholder that leads nowhere",
    P015 "an event that no step raises",
    P016 "a card, record or picture speaks of what is not there",
    // S: scripts
    S001 "a script with a fault",
    S002 "a name that a script does not know",
    S003 "values of different dimensions",
    S004 "a script went past its limits",
    S005 "something that scripts may not do",
    S006 "a number that is not finite",
    // H: sheets
    H001 "a faulty sheet",
    H002 "an input is missing or unknown to the sheet",
    H003 "an input outside its limits",
    H004 "an input outside the range in which the formula holds",
    H005 "a result that is not shown, because something it needs is not known",
    // J: jobs, answers and journals
    J001 "a faulty job file",
    J002 "an answer that does not fit what was asked",
    J003 "answers left over",
    J004 "a journal that does not hold",
    J005 "a journal in use by another",
    J006 "a person or role that the shop does not know",
    J007 "an instrument that does not fit",
    J008 "time going backwards",
    J009 "files changed since the job was planned",
    J010 "an answer is missing",
    // O: overlays
    O001 "a change of an overlay that does not say what it changes",
    O002 "an overlay speaks of a step that is not there",
    O003 "an overlay removes or loosens what is marked to be kept",
    O004 "a change of an overlay that does not fit what it changes",
    O005 "an overlay leaves out what other steps rest on",
    // W: the workshop's own file
    W001 "a faulty shop file",
    W002 "a role that nobody in the shop has",
    W003 "a kind of instrument that the shop lacks",
    // R: logs of readings
    R001 "a log that can't be read",
    R002 "a log that leaves open how it is meant",
    R003 "a faulty description of logs",
    // C: cases
    C001 "a faulty case",
    C002 "a plugin without a case",
    C003 "a case that does not hold",
    // A: arguments
    A001 "wrong arguments",
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
