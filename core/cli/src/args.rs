//! What can be said on the command line.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

/// Runs service procedures written in YAML, computes what they need, and keeps a record that can be replayed.
///
/// The maker's service information, local rules and licensed practice come first.
#[derive(Debug, Parser)]
#[command(name = "standpipe", version, max_term_width = 100)]
pub struct Args {
    #[command(flatten)]
    pub common: Common,
    #[command(subcommand)]
    pub command: Command,
}

#[derive(Clone, Debug, Default, ClapArgs)]
pub struct Common {
    /// A folder of plugins, or one plugin; later ones override earlier ones
    #[arg(long, global = true, value_name = "DIR")]
    pub plugins: Vec<PathBuf>,
    /// The workshop's own settings
    #[arg(long, global = true, value_name = "FILE")]
    pub shop: Option<PathBuf>,
    /// How results are written
    #[arg(long, global = true, value_enum, default_value_t = Format::Human)]
    pub format: Format,
    /// When to use colour; NO_COLOR is honoured too
    #[arg(long, global = true, value_enum, default_value_t = Color::Auto)]
    pub color: Color,
    /// How scripts are run, for comparison: both give the same; by default whichever is quicker
    #[arg(long, global = true, value_enum, value_name = "WAY", hide_short_help = true)]
    pub scripts: Option<By>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum By {
    /// By the interpreter alone
    Rhai,
    /// As programs over numbers, from the first call onwards
    Lowered,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    #[default]
    Human,
    Json,
    /// One line per message, where a command lists messages
    Short,
    /// A report for build servers, where a command runs cases or audits
    Junit,
    /// A table, where a command calculates or tells of many jobs
    Csv,
    /// One page by itself: a card, a record or a procedure
    Html,
    /// What is shown, as YAML
    Yaml,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Color {
    #[default]
    Auto,
    Always,
    Never,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// What a job needs and will do, before it starts
    Card(Card),
    /// Run a job, or go on with it
    Run(Run),
    /// Open jobs: where each stands and what is open
    Jobs(Jobs),
    /// The record of a job, finished or so far
    Report(Report),
    /// What finished jobs say about the values of their family, for whoever keeps those
    Propose(super::propose::Args),
    /// Let a job that is under way go on with corrected data
    Amend(Amend),
    /// Replay records and say what in them does not hold
    Audit(Audit),
    /// The book beside the jobs: every opening, pause and closing, so that no job can be dropped
    Book(super::book::Args),
    /// Sign by key what somebody did in a job, so that others can tell who it was
    Sign(super::sign::Args),
    /// One job as one file to hand over, which `audit` and `report` read like its folder
    Pack(super::pack::Args),
    /// Many jobs as columns, for questions over a year or a chain of shops
    Archive(super::archive::Args),
    /// The page for the bay: jobs on phones, tablets and the office screen
    Serve(Serve),
    /// Everything wrong with plugins, procedures, shops, jobs and answers
    Check(Check),
    /// What differs between two versions of plugins, in words
    Compare(Compare),
    /// Run the worked examples that plugins carry
    Test(Test),
    /// What is known, and from which file and line
    Show(Show),
    /// One calculation, or a table of them
    Calc(Calc),
    /// What a log of readings shows: how it is read, and which checks it meets
    Log(Box<Log>),
    /// A procedure over invented units and people: what its records claim, and what is true
    Simulate(super::simulate::Simulate),
    /// A quantity in another unit
    Convert(Convert),
    /// JSON Schema of a kind of file, for editors
    Schema(Schema),
    /// The manual as pages, written into a folder
    Manual(Manual),
    /// Completions for a shell, on standard output
    Completions(Completions),
    /// A commented, valid starting point, or questions
    New {
        #[command(subcommand)]
        what: New,
    },
}

#[derive(Debug, ClapArgs)]
pub struct Card {
    /// A job file, or FAMILY or FAMILY/VARIANT
    #[arg(value_name = "JOB.yaml | FAMILY[/VARIANT]")]
    pub of: String,
    /// The procedure, where no job names it
    #[arg(long, value_name = "ID")]
    pub procedure: Option<String>,
    /// Where finished jobs are, for what they say about this family; by default `journals:` of the shop file, or beside the
    /// job file
    #[arg(long, value_name = "DIR")]
    pub journals: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
pub struct Run {
    /// The job file, or the folder of a job that is under way
    #[arg(value_name = "JOB.yaml")]
    pub job: PathBuf,
    /// Take the answers from a file instead of the terminal
    #[arg(long, value_name = "FILE")]
    pub answers: Option<PathBuf>,
    /// Folder of this job's journal; by default named after the job, beside the job file
    #[arg(long, value_name = "DIR")]
    pub journal: Option<PathBuf>,
    /// Who works, as the shop knows them; asked for in a terminal
    #[arg(long, value_name = "PERSON")]
    pub by: Option<String>,
    /// Sign by this key what that person signs, witnesses, accepts, calls and closes: the file of a private key, or of a public
    /// one whose private half an agent holds
    #[arg(long, value_name = "FILE", requires = "by")]
    pub key: Option<PathBuf>,
    /// Follow a reader's growing file, or standard input with `-`: its readings are shown, watched, and taken with Enter
    #[arg(long, value_name = "FILE")]
    pub reader: Option<PathBuf>,
    #[command(flatten)]
    pub said: Said,
}

#[derive(Debug, ClapArgs)]
pub struct Serve {
    /// The folder of job files and journals
    #[arg(value_name = "JOBS", default_value = ".")]
    pub jobs: PathBuf,
    /// Where to listen; by default this computer alone can connect. `0.0.0.0:8717` lets the local network
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8717")]
    pub listen: SocketAddr,
    /// A name that devices may call this computer by, beside its addresses
    #[arg(long, value_name = "HOST")]
    pub name: Vec<String>,
    /// Print a code for one more device that lets others in
    #[arg(long)]
    pub pair: bool,
    /// Serve over TLS, with a certificate that is made once and kept beside the list of paired devices
    #[arg(long)]
    pub tls: bool,
    /// Serve over TLS with this certificate, in PEM, with its chain
    #[arg(long, value_name = "FILE", requires = "key")]
    pub certificate: Option<PathBuf>,
    /// The private key of that certificate, in PEM
    #[arg(long, value_name = "FILE", requires = "certificate")]
    pub key: Option<PathBuf>,
    /// Where the list of paired devices is kept; by default beside the jobs
    #[arg(long, value_name = "FILE")]
    pub devices: Option<PathBuf>,
    /// Follow a reader's growing file: whoever does the work says at which job it is connected
    #[arg(long, value_name = "FILE")]
    pub reader: Option<PathBuf>,
    #[command(flatten)]
    pub said: Said,
}

#[derive(Debug, ClapArgs)]
pub struct Jobs {
    /// Where to look for journals
    #[arg(value_name = "PATH", default_value = ".")]
    pub path: PathBuf,
    /// Closed jobs too
    #[arg(long)]
    pub all: bool,
}

#[derive(Debug, ClapArgs)]
pub struct Report {
    /// Folder of a job, its journal file, or a pack; with `--format csv` any number of them, or folders of jobs
    #[arg(value_name = "JOURNAL", required = true)]
    pub journals: Vec<PathBuf>,
    /// Who reads it: for the customer it is one page without what only the workshop can read
    #[arg(long = "for", value_enum, value_name = "WHO", default_value_t = Whom::Workshop)]
    pub whom: Whom,
    /// Who may sign by which key: an ALLOWED SIGNERS file of ssh-keygen(1)
    #[arg(long, value_name = "FILE")]
    pub signers: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Whom {
    Workshop,
    Customer,
    Auditor,
    Stranger,
}

#[derive(Debug, ClapArgs)]
pub struct Amend {
    /// Folder of a job that is under way, or its journal file
    #[arg(value_name = "JOURNAL")]
    pub job: PathBuf,
    /// Who decides it, as the shop knows them: someone who may accept what turned out otherwise
    #[arg(long, value_name = "PERSON")]
    pub by: String,
    /// What was wrong with the data
    #[arg(long, value_name = "TEXT")]
    pub because: String,
    /// When it was decided; by default now
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
}

#[derive(Debug, ClapArgs)]
pub struct Audit {
    /// Journals, packs, or folders that have journals somewhere below them
    #[arg(value_name = "PATH", required_unless_present = "files_from")]
    pub paths: Vec<PathBuf>,
    /// Answer a list line by line, each with a line of JSON: `{"key": ..., "folder": ...}`; `-` for standard input
    #[arg(long, value_name = "FILE", conflicts_with_all = ["paths", "seal", "book"])]
    pub files_from: Option<PathBuf>,
    /// The seal as it was printed when the job was closed; for one journal
    #[arg(long, value_name = "HASH")]
    pub seal: Option<String>,
    /// The hash of a line of the book beside the jobs, as the record of a job printed it
    #[arg(long, value_name = "HASH")]
    pub book: Option<String>,
    /// Who may sign by which key: an ALLOWED SIGNERS file of ssh-keygen(1)
    #[arg(long, value_name = "FILE")]
    pub signers: Option<PathBuf>,
    /// Certificates, in PEM, of authorities trusted to stamp the book beside the jobs; OpenSSL checks the stamps
    #[arg(long, value_name = "FILE.pem", conflicts_with = "files_from")]
    pub authority: Option<PathBuf>,
    /// Judge the entries of finished jobs again under the plugins in this folder; PATH may then be an archive
    #[arg(long, value_name = "DIR")]
    pub against: Option<PathBuf>,
    /// An instrument of the shop file that was found to be off: judge what finished jobs entered with it as it truly was
    #[arg(long, value_name = "ID", requires = "off", conflicts_with = "against")]
    pub instrument: Option<String>,
    /// By how much: `+8 %` shows too much, `-2 K` too little; without a sign either way is tried
    #[arg(long, value_name = "AMOUNT", requires = "instrument", allow_hyphen_values = true)]
    pub off: Option<String>,
    /// Only what was entered on this day or later
    #[arg(long, value_name = "DATE", requires = "instrument")]
    pub since: Option<jiff::civil::Date>,
}

#[derive(Debug, ClapArgs)]
pub struct Check {
    /// Plugins, folders of plugins, shop, job and answers files; without any, all that is in force
    #[arg(value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// Warnings count as errors
    #[arg(long)]
    pub strict: bool,
    /// Fix what is certain in the files of PATH, and in plugins of a shop among them, and say what changed; `--fix=show` says
    /// so and writes nothing
    #[arg(long, value_name = "HOW", num_args = 0..=1, require_equals = true, default_missing_value = "write", requires = "paths")]
    pub fix: Option<Fix>,
}

/// What becomes of changes that are certain. One flag for both: version control undoes what was written, and whoever wants to
/// look first does not have to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Fix {
    Write,
    Show,
}

#[derive(Debug, ClapArgs)]
pub struct Compare {
    /// The earlier version: a plugin's folder, or a folder of plugins
    #[arg(value_name = "A")]
    pub old: PathBuf,
    /// The later one
    #[arg(value_name = "B")]
    pub new: PathBuf,
}

#[derive(Debug, ClapArgs)]
pub struct Test {
    /// Plugins or folders of plugins whose cases are run; without any, all that are in force
    #[arg(value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// Only cases with this in their `plugin/id`, their sheet or their procedure
    #[arg(long, value_name = "TEXT")]
    pub filter: Option<String>,
    /// Every case in full, not only those that do not hold
    #[arg(long)]
    pub verbose: bool,
    /// List the sheets, steps and gates that no case reached
    #[arg(long)]
    pub coverage: bool,
    /// Warnings count as failures
    #[arg(long)]
    pub strict: bool,
}

#[derive(Debug, ClapArgs)]
pub struct Show {
    /// plugin, quantity, units, table, form, family, procedure, sheet, overlay, script, case, code, or key of a file
    #[arg(value_name = "KIND")]
    pub kind: Option<String>,
    /// Which one; of a key its path, such as `procedure.steps.hold`
    #[arg(value_name = "ID")]
    pub id: Option<String>,
    /// File and line of every value, and what it overrode
    #[arg(long)]
    pub places: bool,
    /// Of a sheet: the program over numbers that its script becomes, beside the script
    #[arg(long, conflicts_with = "places")]
    pub lowered: bool,
    /// Of a procedure: only what concerns this family, or `FAMILY/VARIANT`
    #[arg(long, value_name = "ID")]
    pub family: Option<String>,
}

#[derive(Debug, ClapArgs)]
pub struct Calc {
    /// Id of the sheet; `standpipe show sheet` lists them
    #[arg(value_name = "SHEET")]
    pub sheet: String,
    /// Its inputs, such as `volume="7 L"`, or `readings=@file.csv` for a list; without any, the inputs that it takes are shown
    #[arg(value_name = "NAME=VALUE", allow_negative_numbers = true)]
    pub inputs: Vec<String>,
    /// The steps in between, as one would check them by hand
    #[arg(long)]
    pub explain: bool,
    /// Compute every row of a CSV file, `-` for standard input: columns are `name [unit]`, inputs given as well apply
    /// to all rows
    #[arg(long, value_name = "FILE.csv", conflicts_with = "explain")]
    pub table: Option<PathBuf>,
    /// Read cells such as `38.2 ± 1.5 degC` in a table, and say by how much every result may be off; a column
    /// `u(NAME) [unit]` of standard uncertainties asks for the same
    #[arg(long, requires = "table")]
    pub uncertainty: bool,
    /// Seed of the random numbers, where an input is uncertain: `at="38.2 ± 1.5 degC"`, `at="38.2(5) degC"`,
    /// `at="38.2 degC u=0.5"` or `at=38.2@reader` with an instrument of the shop
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub seed: u64,
}

#[derive(Debug, ClapArgs)]
pub struct Log {
    /// What the reader wrote: rows of readings between commas, semicolons or tabs; `-` for standard input
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The folder of a job: its family, its window and when its steps were done
    #[arg(long, value_name = "JOURNAL")]
    pub job: Option<PathBuf>,
    /// The family, where no job says it
    #[arg(long, value_name = "FAMILY[/VARIANT]", conflicts_with = "job")]
    pub family: Option<String>,
    /// The window, such as 35..45degC; by default that of the family
    #[arg(long, value_name = "RANGE", allow_hyphen_values = true)]
    pub window: Option<String>,
    /// When something happened: a time of day, seconds since the start such as "125 s", or a date with a time
    #[arg(long = "event", value_name = "EVENT=TIME")]
    pub events: Vec<String>,
    /// Time of day at which a log that counts from its start began
    #[arg(long, value_name = "TIME")]
    pub starts: Option<String>,
    /// Which description of logs to read it by, where several fit; `standpipe show log` lists them
    #[arg(long, value_name = "ID")]
    pub description: Option<String>,
    #[command(flatten)]
    pub said: Said,
    /// Keep the log as evidence of the job, and its verdicts in the journal
    #[arg(long, requires = "job", requires = "by")]
    pub keep: bool,
    /// Who keeps it, as the shop knows them
    #[arg(long, value_name = "PERSON", requires = "keep")]
    pub by: Option<String>,
    /// When it was kept; by default now
    #[arg(long, value_name = "DATE-TIME", requires = "keep")]
    pub at: Option<String>,
}

/// How a log or a reader's rows are meant, where they do not tell it themselves.
#[derive(Clone, Debug, ClapArgs)]
#[group(skip)]
pub struct Said {
    /// Read it as this instrument of the shop writes it
    #[arg(long = "as", value_name = "INSTRUMENT")]
    pub instrument: Option<String>,
    /// Which column holds what: its heading, or #3 for the third
    #[arg(long = "column", value_name = "NAME=COLUMN")]
    pub columns: Vec<String>,
    /// The unit of a column that does not say it
    #[arg(long = "unit", value_name = "NAME=UNIT")]
    pub units: Vec<String>,
    /// What a word or number in a column stands for
    #[arg(long = "word", value_name = "NAME.CELL=WORD")]
    pub words: Vec<String>,
    /// The decimal sign
    #[arg(long, value_name = "point|comma")]
    pub decimal: Option<String>,
    /// What separates cells
    #[arg(long, value_name = "comma|semicolon|tab")]
    pub delimiter: Option<String>,
    /// The encoding, where the text does not show it: utf-8, utf-16-le, utf-16-be or latin-1
    #[arg(long, value_name = "NAME")]
    pub encoding: Option<String>,
    /// What its times mean
    #[arg(long, value_name = "clock|elapsed|date")]
    pub time: Option<String>,
}

#[derive(Debug, ClapArgs)]
pub struct Convert {
    /// A number with its unit, such as "7 lbf·ft"
    #[arg(value_name = "QUANTITY", allow_hyphen_values = true)]
    pub quantity: String,
    /// The unit wanted; by default every unit of its kind
    #[arg(value_name = "UNIT")]
    pub unit: Option<String>,
}

#[derive(Debug, ClapArgs)]
pub struct Schema {
    /// Which kind of file
    #[arg(value_name = "KIND", value_enum)]
    pub kind: SchemaKind,
    /// Of families and jobs: the form whose fields they have
    #[arg(long, value_name = "ID")]
    pub form: Option<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SchemaKind {
    Plugin,
    Units,
    Form,
    Family,
    Procedure,
    Sheet,
    Overlay,
    Shop,
    Job,
    Answers,
    Case,
    /// What `card --format json` writes
    Card,
    /// What `report --format json` writes
    Record,
    Log,
    /// What `audit --format json` writes
    Audit,
    Model,
    People,
    /// What `simulate --format json` writes
    Simulation,
    /// The tables that `archive` writes
    Archive,
}

#[derive(Debug, ClapArgs)]
pub struct Manual {
    /// The folder: a new or empty one, or that of an earlier manual
    #[arg(long, value_name = "DIR")]
    pub into: PathBuf,
}

#[derive(Debug, ClapArgs)]
pub struct Completions {
    #[arg(value_name = "SHELL", value_enum)]
    pub shell: clap_complete::Shell,
}

#[derive(Debug, Subcommand)]
pub enum New {
    /// A job file, asked for or from what is given
    Job(NewJob),
    /// What is known of one unit: asks the questions of a form in a terminal
    Family(NewFile),
    /// Steps and gates
    Procedure(NewFile),
    /// A calculation with its script and a worked example
    Sheet(NewFile),
    /// What has to be known of a kind of unit
    Form(NewFile),
    /// What one shop adds, replaces, leaves out or tightens
    Overlay(NewFile),
    /// Invented units that a procedure is simulated on: all that it asks, with what is true of it
    Model(NewFile),
    /// Units of measure
    Units(NewFile),
    /// A list with columns
    Table(NewFile),
    /// A worked example of a real job, from its journal, without anybody's name: what came of it is what is expected
    Case(NewCase),
}

#[derive(Debug, ClapArgs)]
pub struct NewCase {
    /// Its id
    #[arg(value_name = "ID")]
    pub id: String,
    /// Folder of the job, or its journal file
    #[arg(long, value_name = "JOURNAL")]
    pub from: PathBuf,
    /// Where a plugin is made for it, or a plugin that takes it; by default here
    #[arg(long, value_name = "DIR")]
    pub into: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
pub struct NewFile {
    /// Its id, and the name of the plugin that is made for it
    #[arg(value_name = "ID")]
    pub id: String,
    /// Where the plugin is made, or a plugin that takes the file; by default here
    #[arg(long, value_name = "DIR")]
    pub into: Option<PathBuf>,
    /// Of a family or a procedure: the form that it is for
    #[arg(long, value_name = "ID")]
    pub form: Option<String>,
    /// Of an overlay: the procedure that it is laid over; of a model: the one that it answers
    #[arg(long, value_name = "ID")]
    pub procedure: Option<String>,
    /// Of a model: a family that its units are of
    #[arg(long, value_name = "FAMILY[/VARIANT]")]
    pub family: Option<String>,
}

#[derive(Debug, ClapArgs)]
pub struct NewJob {
    /// Number of the job
    #[arg(value_name = "ID")]
    pub id: String,
    /// Family of the unit, or FAMILY/VARIANT
    #[arg(long, value_name = "FAMILY[/VARIANT]")]
    pub family: Option<String>,
    /// The procedure, where several fit the family
    #[arg(long, value_name = "ID")]
    pub procedure: Option<String>,
    /// A fact of the job, such as `subject.odometer="120000 km"`
    #[arg(long = "set", value_name = "FACT=VALUE")]
    pub set: Vec<String>,
    /// Where to write it; by default ID.yaml here
    #[arg(long, value_name = "FILE")]
    pub into: Option<PathBuf>,
}
