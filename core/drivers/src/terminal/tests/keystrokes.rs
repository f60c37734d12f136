//! How many keys a whole job takes somebody who knows where they are: the fewest that the pages take for the answers of an example.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::{Press, Script, presses};
use crate::answers::{Answers, Given};
use crate::draft::{Draft, Stage};
use crate::offer::ends_of;
use crate::setting::Setting;
use crate::terminal::photo::newest;
use crate::terminal::session::Session;
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::Source;
use standpipe_job::plan::{Inputs, build};
use standpipe_job::{AnswerKind, Entry, Hold, OpenJob, Pending, Phase, Prompt, What};
use standpipe_library::{Files, Layer};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn read(path: &str) -> std::sync::Arc<Source> {
    Source::new(path, std::fs::read_to_string(root().join("examples").join(path)).unwrap())
}

fn opened(folder: &Path, job: &str) -> OpenJob {
    let (mut files, mut problems) = (Files::built_in(), Problems::new());
    for (number, plugin) in ["ferry-lane", "transfer-cases"].into_iter().enumerate() {
        files.add_folder(&root().join("examples/workshop").join(plugin), Layer::Given(number + 1), &mut problems);
    }
    let inputs = Inputs::new(read(&format!("jobs/{job}.yaml")), Some(read("workshop/shop.yaml")), files);
    let plan = build(inputs, &mut problems).unwrap_or_else(|| panic!("{problems:?}"));
    OpenJob::open(&folder.join("job"), Hold::Begin(Box::new(plan))).unwrap()
}

/// One of a few: its number, with Enter where one key is not enough.
fn number(index: usize, of: usize) -> String {
    if of > 9 { format!("{}\n", index + 1) } else { (index + 1).to_string() }
}

/// A sitting as far as these keys go.
fn press(job: &mut OpenJob, keys: VecDeque<Press>) -> Vec<String> {
    let mut console = Script { keys, now: Duration::from_secs(1), drawn: Vec::new(), bells: 0 };
    let clock = || "2026-11-26T08:00:00+01:00".parse().unwrap();
    Session::new(job, &clock, &mut console, "rita".to_owned(), None).run().unwrap();
    console.drawn
}

/// What a hand presses for an entry, page after page; and how many of it are typed, where a path stands for a file's name.
struct Hand {
    keys: String,
    spared: usize,
}

impl Hand {
    /// `chose`: a folder of photos is chosen already, which a sitting keeps.
    fn entry(job: &OpenJob, prompt: &Prompt, given: &Entry, by: &str, photo: Option<&Path>, chose: bool) -> Self {
        let setting = Setting { machine: job.machine() };
        let mut hand = Self { keys: String::new(), spared: 0 };
        let mut draft = Draft::new(prompt, false);
        while let Some(stage) = draft.stage() {
            match stage {
                Stage::With(index) => {
                    let field = &prompt.fields[index];
                    let chosen = field.instruments.iter().position(|id| given.with.get(&field.name) == Some(id));
                    hand.keys += &number(chosen.unwrap_or(0), field.instruments.len());
                }
                Stage::Scale(index) => {
                    let field = &prompt.fields[index];
                    let is_it =
                        |id: &str| ends_of(prompt, id).iter().all(|it| given.typed.get(&it.name) == Some(&it.typed));
                    let at = field.ends.keys().position(|id| is_it(id));
                    hand.keys += &number(at.unwrap_or(field.ends.len()), field.ends.len() + 1);
                    let id = at.and_then(|at| field.ends.get_index(at)).map(|(id, _)| id.clone());
                    draft.scales.insert(field.end_of.clone().unwrap(), id);
                }
                Stage::Field(_) if takes_what_is_offered(&draft, prompt, given) => {
                    hand.keys.push('\n');
                    draft.take(&draft.offered(prompt));
                    continue;
                }
                Stage::Field(index) => {
                    let field = &prompt.fields[index];
                    let typed = given.typed.get(&field.name).map_or("", String::as_str);
                    let option = |id: &str| field.options.iter().position(|(known, _)| known == id);
                    match field.kind {
                        AnswerKind::Held => {
                            let waits = (prompt.hold.unwrap_or(0.0) / 10.0).ceil() as usize + 1;
                            hand.keys += &format!("\n{}\n", "~".repeat(waits));
                            hand.spared += waits;
                        }
                        AnswerKind::Done if given.item.is_none() && takes_the_rest(prompt) => hand.keys.push('r'),
                        AnswerKind::Done => hand.keys.push('\n'),
                        _ if !field.options.is_empty() => {
                            let chosen = option(typed).or_else(|| option(by)).unwrap_or_else(|| panic!("{typed}?"));
                            hand.keys += &number(chosen, field.options.len());
                        }
                        AnswerKind::Date if typed == "2026-11-26" => hand.keys.push('\n'),
                        AnswerKind::Date if typed == "2026-12-10" => hand.keys.push_str("+14\n"),
                        _ => {
                            let unit = field.unit.clone().or_else(|| setting.unit_of(field.instruments.first()?));
                            let bare = unit.and_then(|unit| Some(typed.strip_suffix(&unit)?.trim_end().to_owned()));
                            let said = setting.said_before(job.state(), field).iter().position(|text| text == typed);
                            let typed = bare.as_deref().unwrap_or(typed);
                            let tabs = said.map(|at| "\t".repeat(at + 1)).filter(|tabs| tabs.len() < typed.len());
                            hand.keys += &format!("{}\n", tabs.as_deref().unwrap_or(typed));
                        }
                    }
                }
                Stage::Witness => {
                    let others = setting.people().into_iter().filter(|(id, _)| id != "rita");
                    let who = others.map(|(id, _)| id).position(|id| given.witness.as_ref() == Some(&id));
                    hand.keys += &number(who.unwrap(), 3);
                }
                Stage::Photo => {
                    let path = photo.unwrap_or_else(|| panic!("{} wants a photo", prompt.asks));
                    let folder = path.parent().unwrap();
                    let typed = folder.display().to_string();
                    let found = newest(folder);
                    let at = found.iter().position(|(known, _)| known == path).unwrap();
                    hand.keys += &format!("{typed}\n{}", number(at, found.len() + 1));
                    // Where it lies is another in each workshop: counted is the name of the folder.
                    let counted = if chose { 0 } else { folder.file_name().unwrap().len() + 1 };
                    hand.spared += typed.len() + 1 - counted;
                }
            }
            draft.next();
        }
        hand
    }
}

fn takes_what_is_offered(draft: &Draft, prompt: &Prompt, given: &Entry) -> bool {
    let offered = draft.offered(prompt);
    !offered.is_empty() && offered.iter().all(|it| given.typed.get(&it.name) == Some(&it.typed))
}

#[test]
fn a_whole_job_takes_few_keys() {
    let folder = tempfile::tempdir().unwrap();
    let mut job = opened(folder.path(), "heron-estate");
    let mut problems = Problems::new();
    let answers = Answers::read(&read("answers/heron-estate.yaml"), &mut problems).unwrap();
    press(&mut job, VecDeque::new());
    let (mut keys, mut called, mut words, mut chose) = (0, 0, 0, false);
    for answer in &answers.list {
        let photo = |evidence: &[standpipe_yaml::At<String>]| {
            evidence.first().map(|path| root().join("examples/answers").join(&path.value).canonicalize().unwrap())
        };
        let in_a_call = !job.state().calls.is_empty();
        loop {
            let Pending::Entry(prompt) = job.pending() else { panic!("{:?}", job.pending()) };
            let before = job.state().seq;
            let (hand, one) = match &answer.given {
                Given::Enter { entry, bare, evidence, .. } => {
                    let mut entry = entry.clone();
                    if let (Some(bare), Some(field)) = (bare, prompt.fields.first()) {
                        entry.typed.insert(field.name.clone(), bare.value.clone());
                    }
                    let hand = Hand::entry(&job, &prompt, &entry, &answer.by, photo(evidence).as_deref(), chose);
                    chose |= hand.keys.contains('/');
                    let own = |(name, typed): (&String, &String)| {
                        let field =
                            prompt.fields.iter().find(|field| field.name == *name && field.kind == AnswerKind::Text);
                        field.filter(|_| hand.keys.contains(typed.as_str())).map_or(0, |_| typed.chars().count())
                    };
                    if !in_a_call {
                        words += entry.typed.iter().map(own).sum::<usize>();
                    }
                    (hand, entry.item.is_some())
                }
                Given::What(What::Call { procedure }) => {
                    let reachable = Setting { machine: job.machine() }.reachable();
                    let at = reachable.iter().position(|(id, _)| id == procedure).unwrap();
                    let keys = format!("x{}", number(at, reachable.len()));
                    (Hand { keys, spared: 0 }, true)
                }
                Given::What(What::Note(text)) => {
                    words += text.chars().count();
                    (Hand { keys: format!("n{text}\n"), spared: 0 }, true)
                }
                other => panic!("{other:?}"),
            };
            let drawn = press(&mut job, presses(&hand.keys));
            assert!(job.state().seq > before, "{:?} {}", hand.keys, drawn.join("\n---\n"));
            let pressed = hand.keys.chars().count() - hand.spared;
            *(if in_a_call { &mut called } else { &mut keys }) += pressed;
            let same = matches!(job.pending(), Pending::Entry(now) if now.address == prompt.address && pass(&now) == pass(&prompt));
            if one || prompt.item.is_none() || !same {
                break;
            }
        }
    }
    assert_eq!(job.state().phase, Phase::Finished);
    // A broken thread is called on the way: that is no clean job, and is counted apart.
    // Sentences take the letters that they have. Together it was 145 more while each part, bolt, label and photo was answered alone.
    assert!(words > 300 && called > 100, "{words} {called}");
    assert!((200..=350).contains(&(keys - words)), "{} keys beside {words} letters of sentences", keys - words);
}

/// The pass that an item belongs to.
fn pass(prompt: &Prompt) -> Option<&str> {
    prompt.item.as_ref()?.rsplit_once('/').map(|(pass, _)| pass)
}

fn takes_the_rest(prompt: &Prompt) -> bool {
    prompt.may_take_the_rest() && prompt.count.is_some_and(|(at, all)| at < all)
}
