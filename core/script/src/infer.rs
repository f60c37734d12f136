//! What an expression must come to, as far as its text and the shapes of its names tell.
//!
//! Only what is certain is said: where a value could be anything, so could the result. The rules are those of the running
//! interpreter, asked of the same units with values that stand for all.

mod closure;
mod narrow;

use rhai::{Expr, FnCallExpr, Position, Stmt};

use super::expression::Expression;
use super::scripts::Scripts;
use super::shape::{Measured, Shape};
use standpipe_diagnostic::{Code, Diagnostic, Problems};
use standpipe_quantity::{DimensionFault, Quantity, Units};

/// What is known of the names that an expression mentions.
pub trait Shapes {
    /// Of a path such as `[spec, level, window]`; [`Shape::Any`] where nothing is known.
    fn of(&self, path: &[String]) -> Shape;
    /// Of one of the values of `all(name)`.
    fn one_of_all(&self, name: &str) -> Shape;
}

impl Scripts {
    /// What the expression gives, whatever its names stand for. Values that can never go together are reported.
    pub fn infer(&self, expression: &Expression, shapes: &dyn Shapes, problems: &mut Problems) -> Shape {
        self.infer_among(&[], expression, shapes, problems)
    }

    /// The same, of a condition that has to hold together with others: what these leave of each name counts for it.
    pub fn infer_among(
        &self,
        others: &[&Expression],
        expression: &Expression,
        shapes: &dyn Shapes,
        problems: &mut Problems,
    ) -> Shape {
        let units = self.units().clone();
        let narrowed = narrowed(&units, others, shapes);
        let mut inference = Inference { units: &units, expression, shapes, narrowed, problems };
        match expression.ast.statements().last() {
            Some(Stmt::Expr(expr)) => inference.expr(expr),
            Some(Stmt::FnCall(call, position)) => inference.call(call, *position),
            _ => Shape::Any,
        }
    }
}

impl Scripts {
    /// What conditions that all hold leave of a name; its shape as it is where they say nothing of it.
    pub fn left_by(&self, conditions: &[&Expression], path: &[String], shapes: &dyn Shapes) -> Shape {
        let narrowed = narrowed(self.units(), conditions, shapes);
        let left = narrowed.into_iter().rev().find(|(of, _)| of == path);
        left.map_or_else(|| shapes.of(path), |(_, shape)| shape)
    }
}

/// What conditions leave of each path, if they hold.
fn narrowed(units: &Units, conditions: &[&Expression], shapes: &dyn Shapes) -> Vec<(Vec<String>, Shape)> {
    let mut narrowed = Vec::new();
    for condition in conditions {
        // What is wrong with it is said where it is looked at by itself.
        let mut quiet = Problems::new();
        let mut inference = Inference { units, expression: condition, shapes, narrowed, problems: &mut quiet };
        match condition.ast.statements().last() {
            Some(Stmt::Expr(expr)) => inference.suppose(expr),
            Some(Stmt::FnCall(call, _)) => inference.suppose_call(call),
            _ => {}
        }
        narrowed = inference.narrowed;
    }
    narrowed
}

struct Inference<'a> {
    units: &'a Units,
    expression: &'a Expression,
    shapes: &'a dyn Shapes,
    /// What the parts of an `&&` that stand before leave of each path; the last one counts.
    narrowed: Vec<(Vec<String>, Shape)>,
    problems: &'a mut Problems,
}

impl Inference<'_> {
    fn report(&mut self, position: Position, code: Code, message: String, help: Option<String>) {
        let place = self.expression.text.place(position);
        let mut problem = Diagnostic::error(code, &place, message);
        problem.help = help;
        self.problems.push(problem);
    }

    fn expr(&mut self, expr: &Expr) -> Shape {
        match expr {
            Expr::BoolConstant(truth, _) => Shape::Truth(Some(*truth)),
            Expr::IntegerConstant(number, _) => exactly(*number as f64),
            Expr::FloatConstant(number, _) => exactly(**number),
            Expr::StringConstant(text, _) => Shape::Text(Some(vec![text.to_string()])),
            Expr::InterpolatedString(parts, _) => {
                parts.iter().for_each(|part| drop(self.expr(part)));
                Shape::Text(None)
            }
            Expr::Array(items, _) => {
                let shapes: Vec<Shape> = items.iter().map(|item| self.expr(item)).collect();
                Shape::List(Box::new(shapes.into_iter().reduce(Shape::or).unwrap_or(Shape::Any)))
            }
            Expr::Map(entries, _) => {
                let fields = entries.0.iter().map(|(name, value)| (name.name.to_string(), self.expr(value)));
                Shape::Record(fields.collect())
            }
            Expr::Variable(parts, ..) if parts.2.is_empty() => self.known(&[parts.1.to_string()]),
            Expr::FnCall(call, position) => self.call(call, *position),
            Expr::And(parts, position) => self.joined(parts, *position, "&&", false),
            Expr::Or(parts, position) => self.joined(parts, *position, "||", true),
            Expr::Dot(..) => self.dot(expr),
            Expr::Index(parts, ..) => {
                self.expr(&parts.rhs);
                match self.expr(&parts.lhs) {
                    Shape::List(one) => *one,
                    _ => Shape::Any,
                }
            }
            _ => Shape::Any,
        }
    }

    /// `&&` and `||`: one operand that is `decides` settles it, the others settle it together.
    fn joined(&mut self, parts: &[Expr], position: Position, word: &str, decides: bool) -> Shape {
        let mut all = Some(!decides);
        let before = self.narrowed.len();
        for part in parts {
            let shape = self.expr(part);
            if !decides {
                self.suppose(part);
            }
            match shape {
                Shape::Truth(Some(truth)) if truth == decides => all = Some(decides),
                Shape::Truth(Some(_)) => {}
                Shape::Truth(None) | Shape::Any => all = all.filter(|truth| *truth == decides),
                other => {
                    let message = format!("`{word}` joins conditions, and this is {}", other.described(self.units));
                    let position = if part.start_position().is_none() { position } else { part.start_position() };
                    self.report(position, Code::DimensionClash, message, Some("compare it with something".to_owned()));
                    self.narrowed.truncate(before);
                    return Shape::Truth(None);
                }
            }
        }
        self.narrowed.truncate(before);
        Shape::Truth(all)
    }

    /// `a.b.c`, `30.degC`, `list.len()`.
    fn dot(&mut self, expr: &Expr) -> Shape {
        let Expr::Dot(parts, ..) = expr else { return Shape::Any };
        let mut links = Vec::new();
        let mut rest = &parts.rhs;
        while let Expr::Dot(chain, ..) = rest {
            links.push(&chain.lhs);
            rest = &chain.rhs;
        }
        links.push(rest);
        let mut links = links.into_iter().peekable();
        let mut shape = match &parts.lhs {
            Expr::Variable(variable, ..) if variable.2.is_empty() => {
                let mut path = vec![variable.1.to_string()];
                while let Some(Expr::Property(named, _)) = links.peek() {
                    path.push(named.2.to_string());
                    links.next();
                }
                self.known(&path)
            }
            other => self.expr(other),
        };
        for link in links {
            shape = match link {
                Expr::Property(named, _) => shape.property(&named.2, self.units).unwrap_or(Shape::Any),
                Expr::MethodCall(call, position) => {
                    if let Some(told) = self.over_list(&call.name, &shape, &call.args) {
                        shape = told;
                        continue;
                    }
                    let mut given = vec![shape];
                    given.extend(call.args.iter().map(|arg| self.expr(arg)));
                    self.function(&call.name, &given, *position)
                }
                _ => Shape::Any,
            };
        }
        shape
    }

    fn call(&mut self, call: &FnCallExpr, position: Position) -> Shape {
        let name = call.name.as_str();
        if let ("all", [Expr::StringConstant(of, _)]) = (name, call.args.as_slice()) {
            return Shape::List(Box::new(self.shapes.one_of_all(of)));
        }
        if let ("every" | "some" | "filter" | "map", Some((list, rest))) = (name, call.args.split_first()) {
            let said = self.problems.len();
            let list = self.expr(list);
            if let Some(told) = self.over_list(name, &list, rest) {
                return told;
            }
            self.problems.truncate(said);
        }
        let given: Vec<Shape> = call.args.iter().map(|arg| self.expr(arg)).collect();
        if call.is_qualified() {
            return Shape::Any;
        }
        match (name, given.as_slice()) {
            ("==" | "!=", [a, b]) => {
                let same = self.equal(a, b, position);
                Shape::Truth(same.map(|same| same == (name == "==")))
            }
            ("<" | "<=" | ">" | ">=", [a, b]) => Shape::Truth(self.ordered(name, a, b, position)),
            ("contains", [whole, part]) => Shape::Truth(self.contains(whole, part, position)),
            ("!", [Shape::Truth(truth)]) => Shape::Truth(truth.map(|truth| !truth)),
            ("!", [_]) => Shape::Truth(None),
            ("+" | "-" | "*" | "/", [Shape::Quantity(a), Shape::Quantity(b)]) => self.arithmetic(name, a, b, position),
            (".." | "..=", ends) => self.counted(ends, position),
            ("-", [Shape::Quantity(a)]) if !a.sample.point => Shape::Quantity(Measured {
                sample: Quantity { si: 0.0 - a.sample.si, ..a.sample.clone() },
                low: 0.0 - a.high,
                high: 0.0 - a.low,
            }),
            _ => self.function(name, &given, position),
        }
    }

    fn equal(&mut self, a: &Shape, b: &Shape, position: Position) -> Option<bool> {
        match (a, b) {
            (Shape::Any, _) | (_, Shape::Any) => None,
            (Shape::Truth(a), Shape::Truth(b)) => Some((*a)? == (*b)?),
            (Shape::Text(a), Shape::Text(b)) => {
                let (a, b) = (a.as_ref()?, b.as_ref()?);
                if a.iter().all(|text| !b.contains(text)) {
                    return Some(false);
                }
                (a.len() == 1 && b.len() == 1).then_some(true)
            }
            (Shape::Quantity(a), Shape::Quantity(b)) => {
                self.compared(a, b, position)?;
                a.equals(b)
            }
            (Shape::Range(_), Shape::Range(_))
            | (Shape::List(_), Shape::List(_))
            | (Shape::Record(_), Shape::Record(_)) => None,
            _ => self.unlike(a, b, position),
        }
    }

    fn ordered(&mut self, operator: &str, a: &Shape, b: &Shape, position: Position) -> Option<bool> {
        match (a, b) {
            (Shape::Any, _) | (_, Shape::Any) => None,
            (Shape::Quantity(a), Shape::Quantity(b)) => {
                self.compared(a, b, position)?;
                match operator {
                    "<" => a.is_below(b),
                    ">" => b.is_below(a),
                    ">=" => a.is_below(b).map(|below| !below),
                    _ => b.is_below(a).map(|below| !below),
                }
            }
            // Dates are texts until a script makes them days.
            (Shape::Text(_), Shape::Text(_)) => {
                let help = "compare texts with `==` or `!=`, days as `date(x) < date(y)`".to_owned();
                self.report(position, Code::DimensionClash, "texts have no order".to_owned(), Some(help));
                None
            }
            (Shape::Range(_), Shape::Quantity(_)) | (Shape::Quantity(_), Shape::Range(_)) => {
                let help = "write `x in range`, or compare with `range.low` or `range.high`".to_owned();
                self.report(
                    position,
                    Code::DimensionClash,
                    "a range has two ends to compare with".to_owned(),
                    Some(help),
                );
                None
            }
            _ => self.unlike(a, b, position),
        }
    }

    fn contains(&mut self, whole: &Shape, part: &Shape, position: Position) -> Option<bool> {
        match (whole, part) {
            (Shape::Range(ends), Shape::Quantity(value)) => {
                self.compared(value, &Measured::any(ends.sample.clone()), position)?;
                let (low, high) =
                    (Measured { high: ends.low, ..ends.clone() }, Measured { low: ends.high, ..ends.clone() });
                if value.is_below(&low) == Some(true) || high.is_below(value) == Some(true) {
                    return Some(false);
                }
                None
            }
            (Shape::Range(_), Shape::Text(_) | Shape::Truth(_)) => self.unlike(whole, part, position),
            _ => None,
        }
    }

    /// `None` when they can't be compared, which has been reported then.
    fn compared(&mut self, a: &Measured, b: &Measured, position: Position) -> Option<()> {
        match self.units.compare(&a.sample, &b.sample) {
            Ok(_) => Some(()),
            Err(fault) => {
                let message = format!("{} can't be compared with {}", a.described(self.units), b.described(self.units));
                self.clash(fault, message, [a, b], position);
                None
            }
        }
    }

    fn clash(&mut self, fault: DimensionFault, message: String, of: [&Measured; 2], position: Position) {
        // A suggestion with a number in it makes sense only if that number is written there.
        let literal = of.iter().any(|one| one.is_exact());
        self.report(position, fault.code, message, fault.help.filter(|_| literal));
    }

    /// Whole numbers to count by; a range of quantities is written otherwise.
    fn counted(&mut self, ends: &[Shape], position: Position) -> Shape {
        let counts = |end: &&Shape| {
            matches!(end, Shape::Any) || matches!(end, Shape::Quantity(end) if end.sample.dimension.is_none())
        };
        if let Some(other) = ends.iter().find(|end| !counts(end)) {
            let message = format!("`..` counts whole numbers, but found {}", other.described(self.units));
            let help = "the range between two values is `range(low, high)`".to_owned();
            self.report(position, Code::DimensionClash, message, Some(help));
        }
        Shape::Any
    }

    fn unlike(&mut self, a: &Shape, b: &Shape, position: Position) -> Option<bool> {
        let message = format!("{} can't be compared with {}", a.described(self.units), b.described(self.units));
        // `a < b < c` compares the outcome of the first with the third.
        let chained = matches!(a, Shape::Truth(_)) && matches!(b, Shape::Quantity(_));
        let help = chained.then(|| "join two comparisons: `a <= b && b <= c`".to_owned());
        self.report(position, Code::DimensionClash, message, help);
        None
    }

    fn arithmetic(&mut self, operator: &str, a: &Measured, b: &Measured, position: Position) -> Shape {
        let (left, right) = (&a.stand_in(), &b.stand_in());
        let (result, done) = match operator {
            "+" => (self.units.add(left, right), "added to"),
            "-" => (self.units.sub(left, right), "taken from"),
            "*" => (self.units.mul(left, right), "multiplied by"),
            _ => (self.units.div(left, right), "divided by"),
        };
        let sample = match result {
            Ok(sample) => sample,
            Err(fault) => {
                let (first, second) = if operator == "-" || operator == "+" { (b, a) } else { (a, b) };
                let message =
                    format!("{} can't be {done} {}", first.described(self.units), second.described(self.units));
                self.clash(fault, message, [a, b], position);
                return Shape::Any;
            }
        };
        Shape::Quantity(match operator {
            _ if a.is_exact() && b.is_exact() => Measured::exactly(sample),
            "+" => Measured { low: a.low + b.low, high: a.high + b.high, ..Measured::any(sample) },
            "-" => Measured { low: a.low - b.high, high: a.high - b.low, ..Measured::any(sample) },
            _ => Measured::any(sample),
        })
    }

    /// The functions that tell something; of the others anything can come.
    fn function(&mut self, name: &str, given: &[Shape], position: Position) -> Shape {
        match (name, given) {
            ("abs", [Shape::Quantity(a)]) if !a.sample.point => {
                let high = a.low.abs().max(a.high.abs());
                let low = if a.low > 0.0 {
                    a.low
                } else if a.high < 0.0 {
                    -a.high
                } else {
                    0.0
                };
                Shape::Quantity(Measured { low, high, ..a.clone() })
            }
            ("len", [_]) => Shape::Quantity(Measured::any(Quantity::number(1.0)).between(Some(0.0), None)),
            ("value", [..]) => Shape::number(),
            ("round" | "floor" | "ceil", [Shape::Quantity(a), ..]) => Shape::Quantity(Measured::any(a.sample.clone())),
            ("sum", [_, Shape::Quantity(zero)]) => Shape::Quantity(Measured::any(zero.sample.clone())),
            ("range", [Shape::Quantity(a), Shape::Quantity(b)]) => match self.compared(a, b, position) {
                Some(()) => Shape::Range(Measured { low: a.low, high: b.high, ..Measured::any(a.sample.clone()) }),
                None => Shape::Any,
            },
            ("middle", [Shape::Range(ends)]) => Shape::Quantity(Measured::any(ends.sample.clone())),
            ("within", [value, range]) => Shape::Truth(self.contains(range, value, position)),
            ("min" | "max", [Shape::Quantity(a), Shape::Quantity(b)]) => match self.compared(a, b, position) {
                Some(()) => Shape::Quantity(Measured::any(a.sample.clone())),
                None => Shape::Any,
            },
            ("has" | "starts_with" | "every" | "some", _) => Shape::Truth(None),
            _ => Shape::Any,
        }
    }
}

fn exactly(number: f64) -> Shape {
    Shape::Quantity(Measured::exactly(Quantity::number(number)))
}
