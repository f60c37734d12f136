#![doc = include_str!("../README.md")]

pub mod case;

mod answers;
mod calls;
mod causes;
mod confidence;
pub mod course;
mod expression;
mod families;
mod files;
mod given;
mod logs;
mod models;
mod pages;
mod reach;
mod shapes;
mod stock;
mod tree;
pub mod versions;
mod view;
mod walk;
mod workshop;

pub use answers::answers;
pub use causes::{Broken, causes_first};
pub use stock::Stock;

use standpipe_diagnostic::source::Place;
use standpipe_diagnostic::{Code, Diagnostic, Problems, Severity};
use standpipe_job::plan::Parsed;
use standpipe_library::{Document, Kind, Layer, Shop};
use standpipe_overlay::Overlay;
use standpipe_procedure::Procedure;
use standpipe_yaml as yaml;
use tree::Tree;

/// Everything that plugins contribute. `shop` comes with the ids of the procedures that its jobs name: of those built into
/// the program it need not be able to do any other.
pub fn library(parsed: &Parsed, shop: Option<(&Shop, &[String])>, problems: &mut Problems) -> Stock {
    let mut overlays = shop.map(|(shop, _)| parsed.overlays(shop, problems)).unwrap_or_default();
    let listed: Vec<String> = overlays.iter().map(|overlay| overlay.id.clone()).collect();
    let stock = together(parsed, shop, &mut overlays, problems);
    if let Some((shop, _)) = shop {
        workshop::roles(&stock, shop, problems);
        workshop::rates(&stock, shop, problems);
    }
    files::unused(parsed, problems);
    logs::check(parsed, &stock, shop.map(|(shop, _)| shop), problems);
    models::check(parsed, &stock, problems);
    for overlay in &overlays {
        named_by(overlay, parsed, problems);
    }
    placeholders(parsed, problems);
    units_without_source(parsed, problems);
    // Those that no shop here makes use of, each by itself.
    for document in parsed.library.documents(Kind::Overlay).filter(|document| !listed.contains(&document.id)) {
        let mut found = Problems::new();
        if let Some(overlay) = Overlay::read(&document.source, &mut found) {
            document.check_id(&overlay.id, &overlay.place, &mut found);
            named_by(&overlay, parsed, &mut found);
            together(parsed, shop, &mut [overlay], &mut found);
        }
        let speaks_of_it = |problem: &Diagnostic| {
            let name = &document.source.name;
            problem.place.name() == name || problem.also.iter().any(|related| related.place.name() == name)
        };
        found.retain(speaks_of_it);
        problems.append(&mut found);
    }
    stock
}

/// All documents against one another, with these overlays in force.
fn together(
    parsed: &Parsed,
    shop: Option<(&Shop, &[String])>,
    overlays: &mut [Overlay],
    problems: &mut Problems,
) -> Stock {
    let stock = Stock::read(parsed, overlays, problems);
    for family in stock.families.values() {
        if let Some(form) = stock.forms.get(&family.form) {
            form.relate(family, &stock.scripts, problems);
        }
    }
    let mut steps = families::Steps::default();
    for root in stock.roots() {
        let tree = Tree::new(&stock, root);
        tree.check(problems);
        walk::general(&tree, shop.map(|(shop, _)| shop), problems);
        families::each(&stock, &tree, &mut steps, problems);
        if let Some((shop, named)) = shop
            && (named.contains(&root.id.value) || is_own(parsed, shop, root))
        {
            workshop::check(&tree, shop, problems);
        }
    }
    steps.unreached(problems);
    workshop::kinds(&stock, shop.map(|(shop, _)| shop), problems);
    stock
}

/// What an overlay is laid over has to be there.
fn named_by(overlay: &Overlay, parsed: &Parsed, problems: &mut Problems) {
    let families = overlay.families().map(|id| (Kind::Family, id));
    for (kind, id) in families.chain(overlay.procedure.iter().map(|id| (Kind::Procedure, id))) {
        parsed.library.find(kind, id, problems);
    }
}

/// With these words a file that `new` wrote asks for what nobody has filled in.
const TO_BE_SAID: &str = "say here ";

/// Nothing is wrong with a beginning; it must not pass for a source all the same.
fn placeholders(parsed: &Parsed, problems: &mut Problems) {
    for document in Kind::ALL.iter().flat_map(|kind| parsed.library.documents(*kind)) {
        let text = &document.source.text;
        for (at, _) in text.match_indices(TO_BE_SAID) {
            let end = text[at..].find(['"', '\n', ',', '}']).map_or(text.len(), |length| at + length);
            let place = Place::new(&document.source, at..end);
            let note =
                Diagnostic::warning(Code::MissingSource, &place, "a placeholder is still here instead of a source")
                    .help("write where it is from; `own design, no source` is an answer too");
            problems.push(Diagnostic { severity: Severity::Note, ..note });
        }
    }
}

/// Units without a word of where they are from.
fn units_without_source(parsed: &Parsed, problems: &mut Problems) {
    for document in parsed.library.documents(Kind::Units) {
        let mut faults = Problems::new();
        let root = yaml::parse(&document.source, &mut faults);
        if faults.is_empty() && root.is_some_and(|root| root.get("sources").is_none()) {
            problems.push(without_source(document, "these factors are"));
        }
    }
}

/// A family says so by itself.
fn without_source(document: &Document, what: &str) -> Diagnostic {
    let message = format!("nothing says where {what} from: there are no `sources:`");
    let note = Diagnostic::warning(Code::MissingSource, &document.place(), message)
        .help("add `sources: [{ covers: all, from: ... }]`; `own design, no source` is an answer too");
    Diagnostic { severity: Severity::Note, ..note }
}

/// Not one of those that come with the program, nor of a plugin beside those that the shop lists.
fn is_own(parsed: &Parsed, shop: &Shop, procedure: &Procedure) -> bool {
    let Some(document) = parsed.library.document(Kind::Procedure, &procedure.id) else { return false };
    let folder = |path: &str| path.trim_end_matches('/').rsplit('/').next().map(str::to_owned);
    let listed = shop.plugins.iter().any(|path| folder(path).as_ref() == Some(&document.plugin));
    document.layer != Layer::BuiltIn && (shop.plugins.is_empty() || listed)
}

/// Each message once: a procedure that several others include is seen from each of them.
pub fn once(problems: Problems) -> Problems {
    let mut kept: Problems = Vec::with_capacity(problems.len());
    let same = |a: &Diagnostic, b: &Diagnostic| {
        a.code == b.code
            && a.message == b.message
            && a.place.range() == b.place.range()
            && a.place.name() == b.place.name()
    };
    for problem in problems {
        if !kept.iter().any(|known| same(known, &problem)) {
            kept.push(problem);
        }
    }
    kept
}
