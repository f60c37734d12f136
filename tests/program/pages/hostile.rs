//! What people type never becomes part of a page.

use std::fs;

use super::{check, parsed, root, text_of, written};
use crate::pages::Page;

const SCRIPT: &str = "</title><script>alert(1)</script><img src=x onerror=alert(2)>";
const QUOTES: &str = "\"' autofocus onfocus=alert(3) {{ 7 * 7 }} {% raw %} &lt; </svg></style>";

/// A plugin, a job and answers with such texts wherever a text can stand.
#[test]
fn hostile_texts_stay_texts() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    for inner in ["p/procedures", "p/families", "p/forms", "p/tables"] {
        fs::create_dir_all(path(inner)).unwrap();
    }
    let quoted = |text: &str| serde_json::to_string(text).unwrap();
    let (script, quotes) = (quoted(SCRIPT), quoted(QUOTES));
    // Braces mean a placeholder in texts of a procedure.
    let procedure_text = quoted(&SCRIPT.replace(['{', '}'], ""));
    let write = |name: &str, text: String| fs::write(path(name), text).unwrap();
    write("p/plugin.yaml", "plugin: p\nversion: 0.1.0\ntitle: Hostile\ninvented: true\n".to_owned());
    write(
        "p/forms/thing.yaml",
        "form: thing\ntitle: A thing\nfields:\n  name: { is: text, required: true }\n  limit: { is: range of temperature }\n  \
         spots: { is: count }\njob:\n  vehicle.plate: { is: text, required: true }\n  customer.name: { is: text }\n\
         sources: [{ covers: all, from: invented }]\n"
            .to_owned(),
    );
    write(
        "p/families/bad.yaml",
        format!(
            "family: bad\nform: thing\ntitle: {script}\ninvented: true\nname: {quotes}\nlimit: 20..30 degC\nspots: 2\n\
             sources: [{{ covers: all, from: {script} }}]\n"
        ),
    );
    write("p/tables/two.csv", format!("spot,x [mm],y [mm],source\n1,0,0,{s}\n2,10,5,{s}\n", s = "invented <b>"));
    write(
        "p/procedures/go.yaml",
        format!(
            "procedure: go\nform: thing\ntitle: {procedure_text}\ncautions: {{ hot: {script} }}\nsteps:\n\
             - id: look\n  title: {procedure_text}\n  read:\n    warmth: {{ is: temperature }}\n    said: {{ is: text, ask: Say it }}\n  \
             gate: {{ must: warmth in spec.limit, otherwise: wait, at_stake: {procedure_text} }}\n  caution: [hot]\n\
             - id: spots\n  title: Go over the spots\n  each: {{ of: spec.spots, label: {procedure_text}, do: Touch it }}\n\
             card:\n- title: {procedure_text}\n  say: [{procedure_text}]\n\
             record:\n- title: {procedure_text}\n  say: [\"{{said}}\"]\n  for_customer: true\n  shown_by: [look]\n\
             pictures:\n- picture: course\n  title: {procedure_text}\n  pages: [record]\n  \
             course: {{ of: [warmth], window: spec.limit, marks: [look] }}\n\
             - picture: spots\n  title: {procedure_text}\n  layout:\n    step: spots\n    places: |\n      table(\"two\")\n\
             sources: [{{ covers: all, from: invented }}]\n"
        ),
    );
    write(
        "shop.yaml",
        format!(
            "shop: s\ntitle: {script}\ninvented: true\nplugins: [p]\npeople: {{ ann: {{ name: {script}, roles: [doer] }} }}\n"
        ),
    );
    write(
        "job.yaml",
        format!(
            "job: j-1\nfamily: bad\nprocedure: go\nshop: shop.yaml\nvehicle: {{ plate: {script} }}\ncustomer: {{ name: {quotes} }}\n"
        ),
    );
    write(
        "answers.yaml",
        format!(
            "answers: bad\ninvented: true\nfor: job.yaml\nlist:\n\
             - {{ step: look, at: \"2026-11-02T08:00:00\", by: ann, enter: {{ warmth: 10 degC, said: {script} }} }}\n\
             - {{ step: look, at: \"+1 min\", by: ann, note: {script} }}\n\
             - {{ step: look, at: \"+1 min\", by: ann, enter: {{ warmth: 25 degC, said: {quotes} }} }}\n\
             - {{ step: spots, at: \"+1 min\", by: ann, skip: {script} }}\n"
        ),
    );
    let (job, answers, journal) = (path("job.yaml"), path("answers.yaml"), path("journal"));
    let [job, answers, journal] = [&job, &answers, &journal].map(|path| path.to_str().unwrap());
    let card = written(&["card", job, "--format", "html"]);
    let said = written(&["run", job, "--answers", answers, "--journal", journal]);
    let record = written(&["report", journal, "--format", "html"]);
    let customer = written(&["report", journal, "--for", "customer", "--format", "html"]);
    for (name, html) in [("card", card), ("record", record), ("customer", customer)] {
        assert!(html.contains("&lt;script&gt;") && !html.contains("<script"), "{name}: {said}\n{html}");
        assert!(!html.contains("<img") && !html.contains("<b>"), "{name}");
        let document = parsed(name, &html);
        // It is all there, as text.
        assert!(text_of(document.root_element()).contains("<img src=x onerror=alert(2)>"), "{name}");
        assert!(!html.contains(" 49 "), "{name}: a text was taken for a template");
        assert!(name == "customer" || html.contains("<svg"), "{name}: {said}");
        check(&Page { name: name.to_owned(), html: html.clone() });
    }
    assert!(root().exists());
}
