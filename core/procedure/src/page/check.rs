//! From blocks and pictures as written to those that can be drawn.

use indexmap::IndexMap;

use super::raw::{RawAnswer, RawBlock, RawCall, RawCurve, RawPicture};
use super::{Answer, Balance, Block, Call, Course, Curve, Drawn, Picture, Settings};
use crate::check::Checker;
use crate::expr::Expr;
use standpipe_diagnostic::{Code, Diagnostic};
use standpipe_quantity::Quantity;
use standpipe_quantity::value::Value;
use standpipe_yaml::At;

const KINDS: &str = "exactly one of layout, course, balance, curve, rounds";

impl Checker<'_> {
    /// A record tells of its own job only: with the same journal it says the same for good.
    pub fn blocks_of_record(&mut self, raw: Vec<RawBlock>) -> Vec<Block> {
        for id in raw.iter().filter_map(|block| block.compute.as_ref()).flat_map(|call| call.earlier.values()) {
            self.report(
                Diagnostic::error(Code::UnfitStep, &id.place, "a record takes nothing from earlier jobs")
                    .expected("`earlier` below a heading of `card:`"),
            );
        }
        raw.into_iter().map(|block| self.block(block)).collect()
    }

    /// A card comes before anything is shown.
    pub fn blocks_of_card(&mut self, raw: Vec<RawBlock>) -> Vec<Block> {
        for answer in raw.iter().filter_map(|block| block.answer.as_ref()) {
            self.report(
                Diagnostic::error(
                    Code::UnfitStep,
                    &answer.what.place,
                    "a card can't answer anything: no step has been done yet",
                )
                .expected("`answer` below a heading of `record:`"),
            );
        }
        for block in raw.iter().filter(|block| block.for_customer) {
            self.report(
                Diagnostic::error(Code::UnfitStep, &block.title.place, "only a record has a customer's page")
                    .expected("`for_customer` below a heading of `record:`"),
            );
        }
        raw.into_iter().map(|block| self.block(block)).collect()
    }

    pub fn pictures(&mut self, raw: Vec<RawPicture>) -> Vec<Picture> {
        raw.into_iter().filter_map(|picture| self.picture(picture)).collect()
    }

    fn block(&mut self, raw: RawBlock) -> Block {
        let is_empty = raw.say.is_empty()
            && raw.facts.is_empty()
            && raw.compute.is_none()
            && raw.settings.is_none()
            && raw.shown_by.is_empty();
        if is_empty {
            self.report(
                Diagnostic::error(Code::UnfitStep, &raw.title.place, "a heading with nothing below it")
                    .expected("at least one of say, facts, compute, settings, shown_by"),
            );
        }
        if let Some(settings) = &raw.settings {
            self.quantity(&settings.is);
        }
        let answer = raw.answer.map(|answer| self.answer(answer, &raw.shown_by));
        Block {
            answer,
            say: raw.say.iter().map(|text| self.template(text)).collect(),
            facts: raw.facts,
            compute: raw.compute.map(|call| self.call(call)),
            settings: raw.settings.map(|settings| Settings { quantity: settings.is, instrument: settings.instrument }),
            shown_by: raw.shown_by,
            for_customer: raw.for_customer,
            title: raw.title,
        }
    }

    fn answer(&mut self, raw: RawAnswer, shown_by: &[At<String>]) -> Answer {
        if !shown_by.iter().any(|step| step.value == raw.step.value) {
            let known: Vec<&str> = shown_by.iter().map(|step| step.value.as_str()).collect();
            self.report(
                Diagnostic::error(
                    Code::UnfitStep,
                    &raw.step.place,
                    format!("`{}` is not what shows it", raw.step.value),
                )
                .nearest(&raw.step.value, known.iter().copied(), "name one of the steps of `shown_by:`")
                .expected(if known.is_empty() {
                    "a step of `shown_by`, which names none".to_owned()
                } else {
                    format!("a step of `shown_by`: {}", known.join(", "))
                }),
            );
        }
        Answer {
            what: self.template(&raw.what),
            found: raw.found.as_ref().map(|found| self.template(found)),
            must: raw.must.map(Expr::new),
            step: raw.step,
        }
    }

    fn call(&mut self, raw: RawCall) -> Call {
        self.sheet(&raw.sheet);
        let with = raw.with.into_iter().map(|(name, script)| (name, Expr::new(script))).collect();
        Call { sheet: raw.sheet, with, earlier: raw.earlier, shows: raw.shows }
    }

    fn picture(&mut self, raw: RawPicture) -> Option<Picture> {
        let title = self.template(&raw.title);
        for page in raw.pages.iter().filter(|page| !matches!(page.as_str(), "card" | "record")) {
            self.report(
                Diagnostic::error(Code::UnfitStep, &page.place, format!("a picture can't stand on `{}`", page.value))
                    .expected("card, record")
                    .nearest(page, ["card", "record"], "write `card`, `record` or both"),
            );
        }
        let is_on = |page: &str| raw.pages.is_empty() || raw.pages.iter().any(|named| named.as_str() == page);
        let (on_card, on_record) = (is_on("card"), is_on("record"));
        let mut drawn = Vec::new();
        if let Some(layout) = raw.layout {
            let up = layout.up.as_ref().map(|up| self.template(up));
            drawn.push(Drawn::Layout { step: layout.step, points: Box::new(Expr::new(layout.places)), up });
        }
        if let Some(course) = raw.course {
            let (window, limit) = (course.window.map(Expr::new), course.limit.map(Expr::new));
            drawn.push(Drawn::Course(Box::new(Course { of: course.of, window, limit, events: course.marks })));
        }
        if let Some(balance) = raw.balance {
            drawn.push(Drawn::Balance(Box::new(Balance {
                added: balance.added,
                removed: balance.removed,
                net: balance.net.map(Expr::new),
                uncertainty: balance.uncertainty.map(Expr::new),
                allowed: balance.allowed.map(Expr::new),
            })));
        }
        let curve = raw.curve.map(|curve| self.curve(curve).map(|curve| Drawn::Curve(Box::new(curve))));
        let rounds = raw.rounds.map(|curve| self.curve(curve).map(|curve| Drawn::Rounds(Box::new(curve))));
        let found = drawn.len() + curve.iter().chain(&rounds).count();
        drawn.extend(curve.into_iter().chain(rounds).flatten());
        if found != 1 {
            self.report(
                Diagnostic::error(
                    Code::UnfitStep,
                    &raw.picture.place,
                    format!("picture `{}` does not say what is drawn", raw.picture.value),
                )
                .expected(KINDS),
            );
        }
        Some(Picture { id: raw.picture, title, on_card, on_record, drawn: drawn.into_iter().next()? })
    }

    fn curve(&mut self, raw: RawCurve) -> Option<Curve> {
        let call = self.call(RawCall { sheet: raw.sheet, with: raw.with, earlier: IndexMap::new(), shows: Vec::new() });
        let (from, to) = (self.end(&raw.from), self.end(&raw.to));
        let (from, to) = (from?, to?);
        if from.dimension != to.dimension || from.point != to.point || from.si >= to.si {
            self.report(
                Diagnostic::error(Code::UnfitStep, &raw.to.place, "a curve without length")
                    .expected(format!("more than `{}`, in a unit of the same quantity", raw.from.value)),
            );
            return None;
        }
        if let Some(unit) = &raw.unit
            && let Err(fault) = self.units().read(&format!("1 {}", unit.value), None, None)
        {
            self.report(fault.at(&unit.place));
        }
        Some(Curve { unit: raw.unit, call, over: raw.over, from, to, gives: raw.gives, at: raw.at.map(Expr::new) })
    }

    fn end(&mut self, text: &At<String>) -> Option<Quantity> {
        match self.units().read(text, None, None) {
            Ok(Value::Quantity(quantity)) => Some(quantity),
            Ok(Value::Number(number)) => Some(Quantity::number(number)),
            Ok(_) => {
                self.report(Diagnostic::error(
                    Code::NotAQuantity,
                    &text.place,
                    format!("`{}` is not one value", text.value),
                ));
                None
            }
            Err(fault) => {
                self.report(fault.at(&text.place));
                None
            }
        }
    }
}
