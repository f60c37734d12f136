//! `new family`: the questions of a form, asked or left unknown.

use indexmap::{IndexMap, IndexSet};

use super::asking::{ask, read_line};
use super::tree::{REMARK, Tree, lines, put, quoted};
use crate::context::Context;
use standpipe_form::{Field, Form, Kind};
use standpipe_quantity::Units;

/// A family as text, and the paths of what is still unknown.
pub struct Family {
    pub text: String,
    pub unknown: Vec<String>,
}

/// `needed`: the fields that procedures name, for groups in which any name may stand.
pub fn family(
    id: &str,
    title: &str,
    form: &Form,
    units: &Units,
    needed: &[String],
    asking: Option<&Context>,
) -> Family {
    let mut writer = Writer { form, units, needed, asking, unknown: Vec::new(), known: 0, root: IndexMap::new() };
    writer.fields();
    let (variants, found) = writer.variants();
    let source = writer.source();
    let Writer { unknown, root, .. } = writer;
    let mut text = format!(
        "# A family: what the maker's service information says of one unit, under the questions of the form `{form}`.\n\
         # Write every number with its unit. `unknown` holds up the steps that need the value, and no others: never guess.\n\
         # `standpipe schema family --form {form}` lists every key.\n\
         family: {id}\nform: {form}\ntitle: {}\n\n",
        quoted(title),
        form = form.id,
    );
    lines(&root, 0, &mut text);
    text.push('\n');
    text.push_str(
        "# What differs between variants, under what a person can see or count to tell them apart. A variant lists only\n\
         # what is different in it.\n",
    );
    text.push_str(&variants);
    if found == 0 {
        text.push_str(&example_of_variants(form));
    }
    text.push('\n');
    text.push_str("# Where the values come from, who entered them and who checked them.\n");
    text.push_str(&source);
    Family { text, unknown }
}

struct Writer<'a> {
    form: &'a Form,
    units: &'a Units,
    needed: &'a [String],
    asking: Option<&'a Context>,
    unknown: Vec<String>,
    known: usize,
    root: IndexMap<String, Tree>,
}

impl Writer<'_> {
    fn fields(&mut self) {
        let plain = self.form.fields.keys().filter(|path| !path.ends_with(".*")).count();
        let mut asked = 0;
        for (path, field) in &self.form.fields {
            if let Some(context) = self.asking.filter(|_| !path.ends_with(".*")) {
                asked += 1;
                context.note(&format!("\n{asked} of {plain}  {}", path.replace(['.', '_'], " ")));
            }
            match (path.strip_suffix(".*"), &field.kind) {
                (Some(group), kind) => self.any_name(group, kind),
                (None, Kind::Record(name)) => self.record(path, name),
                (None, _) => self.value(path, field),
            }
        }
    }

    fn value(&mut self, path: &str, field: &Field) {
        let typed = self.asking.and_then(|context| ask(context, field, self.units));
        let value = match typed {
            Some(typed) => {
                self.known += 1;
                written(&field.kind, &typed)
            }
            None => {
                self.unknown.push(path.to_owned());
                "unknown".to_owned()
            }
        };
        let needed = if field.required { "" } else { "; can stay unknown" };
        let comment = vec![format!("{} ({}{needed})", field.question(), field.expected())];
        put(&mut self.root, path, Tree::Value { comment, value });
    }

    fn record(&mut self, path: &str, name: &str) {
        if let Some(context) = self.asking {
            context.note("");
            context.note(&format!("{}:", path.replace(['.', '_'], " ")));
        }
        for (inner, field) in self.form.records.get(name).into_iter().flatten() {
            self.value(&format!("{path}.{inner}"), field);
        }
    }

    /// A group in which any name may stand: those that the procedures speak of, and as many others as are wanted.
    fn any_name(&mut self, group: &str, kind: &Kind) {
        let prefix = format!("{group}.");
        let named = self.needed.iter().filter_map(|path| path.strip_prefix(&prefix)?.split('.').next());
        let named: IndexSet<String> = named.map(str::to_owned).collect();
        let mut written = 0;
        if let Some(context) = self.asking {
            context.note("");
            context.note(&format!("{}: each has a name.", group.replace(['.', '_'], " ")));
            for name in &named {
                match read_line(&format!(
                    "  {name}: y to be asked for it, n if there is none, Enter leaves it unknown "
                )) {
                    Some(said) if said.starts_with('n') => continue,
                    Some(said) if said.starts_with('y') => self.one(group, name, kind),
                    _ => self.unasked(group, name, kind),
                }
                written += 1;
            }
            while let Some(name) = read_line("  (another name; Enter goes on) ").filter(|name| !name.is_empty()) {
                if is_name(&name) {
                    self.one(group, &name.replace('-', "_"), kind);
                    written += 1;
                } else {
                    context.note("  Lower-case letters, digits and _, a letter first.");
                }
            }
        } else {
            for name in &named {
                self.unasked(group, name, kind);
                written += 1;
            }
        }
        if written == 0 {
            let example = match kind {
                Kind::Record(name) => {
                    let inner = self.form.records.get(name).into_iter().flatten();
                    let inner: Vec<String> = inner.map(|(key, _)| format!("{key}: unknown")).collect();
                    format!("name: {{ {} }}", inner.join(", "))
                }
                _ => "name: unknown".to_owned(),
            };
            let mut comment = vec!["One entry for each, with a name of your own:".to_owned()];
            comment.extend(standpipe_diagnostic::columns::wrap(&example, 110));
            put(&mut self.root, group, Tree::Value { comment, value: "{}".to_owned() });
        } else if let Some(Tree::Group(inner)) = self.root.get_mut(group) {
            let comment =
                "The names are those that procedures ask for. Take out what this unit does not have.".to_owned();
            inner.insert_before(0, REMARK.to_owned(), Tree::Value { comment: vec![comment], value: String::new() });
        }
    }

    fn unasked(&mut self, group: &str, name: &str, kind: &Kind) {
        let asking = self.asking.take();
        self.one(group, name, kind);
        self.asking = asking;
    }

    fn one(&mut self, group: &str, name: &str, kind: &Kind) {
        let path = format!("{group}.{name}");
        match kind {
            Kind::Record(record) => self.record(&path, record),
            _ => {
                if let Some(field) = self.form.field(&path) {
                    self.value(&path, field);
                }
            }
        }
    }

    /// The variants that were asked for, as text, and how many.
    fn variants(&mut self) -> (String, usize) {
        let mut variants = IndexMap::new();
        if let Some(context) = self.asking.filter(|_| !self.form.signs.is_empty()) {
            context.note("");
            context.note("Variants: what can be told apart by looking, with figures of their own.");
            while let Some(name) = read_line("  (a name; Enter goes on) ").filter(|name| !name.is_empty()) {
                if !is_name(&name) {
                    context.note("  Lower-case letters, digits and -, a letter first.");
                    continue;
                }
                let mut signs = IndexMap::new();
                for (sign, field) in &self.form.signs {
                    if let Some(typed) = ask(context, field, self.units) {
                        let value = written(&field.kind, &typed);
                        signs.insert(sign.clone(), Tree::Value { comment: Vec::new(), value });
                    }
                }
                if signs.is_empty() {
                    context.note("  Nothing tells it apart from the others: left out.");
                    continue;
                }
                let signs = IndexMap::from([("recognised_by".to_owned(), Tree::Group(signs))]);
                variants.insert(name, Tree::Group(signs));
            }
        }
        let found = variants.len();
        let mut text = String::new();
        if found > 0 {
            lines(&IndexMap::from([("variants".to_owned(), Tree::Group(variants))]), 0, &mut text);
        }
        (text, found)
    }

    fn source(&self) -> String {
        let asked = self.asking.filter(|_| self.known > 0).and_then(|context| {
            context.note("");
            context.note("Where are these values from? (maker's document, edition, page)");
            let from = read_line("  (Enter leaves it open) ").filter(|from| !from.is_empty())?;
            context.note("Who enters them?");
            let by = read_line("  (initials; Enter leaves it open) ").filter(|by| !by.is_empty());
            Some((from, by))
        });
        match asked {
            Some((from, by)) => {
                let by = by.map(|by| format!(", entered_by: {}", quoted(&by))).unwrap_or_default();
                format!("sources:\n  - {{ covers: all, from: {}{by} }}\n", quoted(&from))
            }
            None => {
                "# sources:\n#   - { covers: all, from: \"document, edition, page\", entered_by: A, checked_by: B }\n"
                    .to_owned()
            }
        }
    }
}

fn example_of_variants(form: &Form) -> String {
    match form.signs.keys().next() {
        Some(sign) => format!(
            "# variants:\n#   one: {{ recognised_by: {{ {sign}: unknown }} }}\n#   other: {{ recognised_by: {{ {sign}: unknown }} }}\n"
        ),
        None => "# The form names no sign by which variants could be told.\n".to_owned(),
    }
}

fn is_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_' || b == b'-')
}

/// What was typed, as it is written into a file.
fn written(kind: &Kind, typed: &str) -> String {
    match kind {
        Kind::List(_) => {
            let items: Vec<String> = typed.split(',').map(|item| quoted(item.trim())).collect();
            format!("[{}]", items.join(", "))
        }
        Kind::Count | Kind::Number | Kind::Date | Kind::Truth | Kind::Quantity(_) | Kind::Range(_) => typed.to_owned(),
        _ => quoted(typed),
    }
}
