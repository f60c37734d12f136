//! The card as text.

use super::{CardView, Group, Step, Unknown};
use crate::block;
use crate::shown::{banner, changed, count, headline, numbers, page, painted, section, words};
use standpipe_diagnostic::columns::{hang, pad, spread, width as columns, wrap};

pub fn text(card: &CardView, width: usize, colour: bool) -> String {
    let heading = match &card.job {
        Some(job) => format!("CARD OF JOB {job}"),
        None => format!("CARD OF {}, PROCEDURE {}", card.of().replacen("family", "FAMILY", 1), card.procedure.id),
    };
    let mut out = vec![headline(&heading, banner(card.simulated.is_some(), card.invented), width)];
    out.extend(wrap(&format!("{}: {}", card.family.title, card.procedure.title), width));
    out.extend(wrap(&card.subject, width));
    out.extend(wrap(card.notice, width));
    identify(card, &mut out, width);
    unknown(card, &mut out, width);
    told(card, &mut out, width);
    block::lines(&card.blocks, &mut out, width);
    bring(card, &mut out, width);
    cautions(card, &mut out, width);
    facts(card, &mut out, width);
    steps(card, &mut out, width);
    changed(&card.changed, &mut out, width);
    if !card.reachable.is_empty() {
        section(&mut out, "When something goes wrong, at any step");
        for procedure in &card.reachable {
            out.extend(hang("  ", &procedure.title, width));
        }
    }
    out.push(String::new());
    out.extend(wrap(&format!("Plan {}", card.plan), width));
    painted(&page(&out), colour)
}

fn identify(card: &CardView, out: &mut Vec<String>, width: usize) {
    if card.variant.signs.is_empty() && card.variant.settled.is_none() {
        return;
    }
    section(out, "Look first: which variant is it?");
    match &card.variant.settled {
        Some(variant) => out.extend(hang("  ", &format!("The job says {variant}. Check it all the same."), width)),
        None => out.extend(hang("  ", "Not settled yet: look before anything is opened.", width)),
    }
    for sign in &card.variant.signs {
        let seen: Vec<String> = sign.seen.iter().map(|seen| format!("{} is {}", seen.looks, seen.variant)).collect();
        out.extend(hang("  ", &format!("{} {}", sign.ask, seen.join(", ")), width));
    }
}

fn unknown(card: &CardView, out: &mut Vec<String>, width: usize) {
    if card.unknown.is_empty() {
        return;
    }
    section(out, "Unknown");
    let told = |unknown: &&Unknown| !unknown.steps.is_empty() || !unknown.by_variant.is_empty();
    let (told, rest): (Vec<&Unknown>, Vec<&Unknown>) = card.unknown.iter().partition(told);
    for unknown in told {
        let mut parts: Vec<String> =
            unknown.by_variant.iter().map(|known| format!("{} for {}", known.shown, known.variant)).collect();
        if parts.is_empty() {
            parts.push(format!("NOBODY HAS ENTERED IT, needed at {}", numbers(&unknown.steps)));
        }
        out.extend(hang(&format!("  {}  ", pad(&words(&unknown.path), 22)), &parts.join("; "), width));
    }
    if !rest.is_empty() {
        let rest = format!("{} not entered either, but no step names them.", count(rest.len(), "more value"));
        out.extend(hang("  ", &rest, width));
    }
}

fn told(card: &CardView, out: &mut Vec<String>, width: usize) {
    if card.told.is_empty() {
        return;
    }
    section(out, "Told at booking");
    for told in &card.told {
        out.extend(hang(&format!("  {}  ", pad(&words(&told.name), 28)), &told.shown, width));
    }
}

fn bring(card: &CardView, out: &mut Vec<String>, width: usize) {
    if !card.instruments.is_empty() {
        section(out, "Instruments");
    }
    for instrument in &card.instruments {
        let own: Vec<String> = instrument
            .shop
            .iter()
            .map(|own| {
                let range = own.range.as_ref().map(|range| format!(" {range}")).unwrap_or_default();
                let accuracy = own.accuracy.as_ref().map(|text| format!(" ± {text}")).unwrap_or_default();
                let due = own.due.map(|due| format!(", good until {due}")).unwrap_or_default();
                format!("{}{range}{accuracy}{due}", own.id)
            })
            .collect();
        let own = if own.is_empty() { "THE SHOP HAS NONE".to_owned() } else { own.join("; ") };
        let label = format!("  {}  ", pad(&words(&instrument.kind), 22));
        out.extend(hang(&label, &format!("{own} ({})", numbers(&instrument.steps)), width));
    }
    if !card.people.is_empty() {
        section(out, "People besides the doer");
    }
    for person in &card.people {
        out.extend(hang("  ", &format!("{} ({})", person.wanted, numbers(&person.steps)), width));
    }
}

fn cautions(card: &CardView, out: &mut Vec<String>, width: usize) {
    if card.cautions.is_empty() {
        return;
    }
    section(out, "Cautions");
    for caution in &card.cautions {
        out.extend(hang("! ", &format!("{} ({})", caution.text, numbers(&caution.steps)), width));
    }
}

fn facts(card: &CardView, out: &mut Vec<String>, width: usize) {
    if !card.facts.is_empty() {
        section(out, "Values and limits");
    }
    let mut last_source = None;
    for group in &card.facts {
        group_lines(group, out, width);
        let mut sources: Vec<&str> = group.facts.iter().filter_map(|fact| fact.from.as_deref()).collect();
        sources.dedup();
        let without = group.facts.iter().filter(|fact| fact.from.is_none()).count();
        let mut said = sources.join("; ");
        if without > 0 {
            said = [said, format!("{} WITHOUT A SOURCE", count(without, "value"))].join("; ");
        }
        let said = said.trim_start_matches("; ").to_owned();
        // A source that holds for group after group is said once.
        if last_source.as_ref() != Some(&said) {
            out.extend(hang("    from: ", &said, width));
            last_source = Some(said);
        }
    }
}

fn group_lines(group: &Group, out: &mut Vec<String>, width: usize) {
    let name = |path: &str| words(path.strip_prefix(&format!("{}.", group.name)).unwrap_or(path));
    let widest = group.facts.iter().map(|fact| columns(&name(&fact.path))).max().unwrap_or(0).min(26);
    out.extend(hang("  ", &words(&group.name), width));
    for fact in &group.facts {
        out.extend(hang(&format!("    {}  ", pad(&name(&fact.path), widest)), &fact.shown, width));
    }
}

fn steps(card: &CardView, out: &mut Vec<String>, width: usize) {
    let gates = card.steps.iter().filter(|step| step.gate.is_some()).count();
    section(out, &format!("{}, {}", count(card.steps.len(), "step"), count(gates, "gate")));
    let mut last = "";
    for step in &card.steps {
        if step.section != last {
            out.extend(hang("  ", &step.section, width));
            last = &step.section;
        }
        step_lines(step, out, width);
    }
}

fn step_lines(step: &Step, out: &mut Vec<String>, width: usize) {
    let mut marks: Vec<String> = step.changed.iter().map(|mark| format!("shop: {}", mark.what.words())).collect();
    marks.extend(step.most_rounds.map(|most| format!("up to {most} times")));
    marks.extend(step.witness.as_ref().map(|_| "witness".to_owned()));
    marks.extend(step.evidence.map(str::to_owned));
    marks.extend(step.gate.as_ref().map(|_| if step.keep { "GATE, kept" } else { "GATE" }.to_owned()));
    let title = format!("{:>5}  {}", step.number, step.title);
    let marks = marks.join(", ");
    if columns(&title) + columns(&marks) + 2 <= width {
        out.push(spread(&title, &marks, width));
    } else {
        out.extend(hang(&format!("{:>5}  ", step.number), &step.title, width));
        out.push(spread("", &marks, width));
    }
    if let Some(when) = &step.when {
        out.extend(hang("       only if ", when, width));
    }
    if let Some(gate) = &step.gate {
        out.extend(hang("       must    ", &format!("{}; else {}", gate.must, gate.otherwise), width));
        if let Some(stake) = &gate.at_stake {
            out.extend(hang("       stake   ", stake, width));
        }
    }
}
