//! What the parts of an `&&` leave of each name for the parts that follow: `x < 3 && x > 5` is never true.

use rhai::{Expr, FnCallExpr};

use super::Inference;
use crate::shape::{Measured, Shape};

/// What `<` leaves out beside the limit itself: values as close as this are taken for equal.
const CLOSE: f64 = 2e-12;

impl Inference<'_> {
    /// The shape of a name, as far as what stands before in the same condition has narrowed it.
    pub(super) fn known(&self, path: &[String]) -> Shape {
        // Of a name that a closure has for an item, its properties are those of the item.
        for length in (1..=path.len()).rev() {
            let Some((_, shape)) = self.narrowed.iter().rev().find(|(of, _)| *of == path[..length]) else { continue };
            let property = |shape: Shape, name: &String| shape.property(name, self.units).unwrap_or(Shape::Any);
            return path[length..].iter().fold(shape.clone(), property);
        }
        self.shapes.of(path)
    }

    /// From here on this is true.
    pub(super) fn suppose(&mut self, expr: &Expr) {
        match expr {
            Expr::And(parts, _) => parts.iter().for_each(|part| self.suppose(part)),
            // Of parts that are certainly false the last one left has to hold.
            Expr::Or(parts, _) => {
                let mut open =
                    parts.iter().filter(|part| self.quietly(part) != Shape::Truth(Some(false))).collect::<Vec<_>>();
                if let (Some(only), true) = (open.pop(), open.is_empty()) {
                    self.suppose(only);
                }
            }
            Expr::FnCall(call, _) => self.suppose_call(call),
            _ => {
                if let Some(path) = path_of(expr) {
                    self.narrowed.push((path, Shape::Truth(Some(true))));
                }
            }
        }
    }

    pub(super) fn suppose_call(&mut self, call: &FnCallExpr) {
        match (call.name.as_str(), call.args.as_slice()) {
            ("!", [inner]) => {
                if let Some(path) = path_of(inner) {
                    self.narrowed.push((path, Shape::Truth(Some(false))));
                }
            }
            (word @ ("<" | "<=" | ">" | ">=" | "==" | "!="), [a, b]) => {
                let (left, right) = (self.quietly(a), self.quietly(b));
                if let Some(path) = path_of(a) {
                    self.narrow(path, word, &right);
                }
                if let Some(path) = path_of(b) {
                    let turned = match word {
                        "<" => ">",
                        "<=" => ">=",
                        ">" => "<",
                        ">=" => "<=",
                        same => same,
                    };
                    self.narrow(path, turned, &left);
                }
            }
            ("contains", [range, value]) => {
                let range = self.quietly(range);
                if let Some(path) = path_of(value) {
                    self.narrow(path, "in", &range);
                }
            }
            _ => {}
        }
    }

    /// What is wrong with it has been said when it was come to.
    fn quietly(&mut self, expr: &Expr) -> Shape {
        let said = self.problems.len();
        let shape = self.expr(expr);
        self.problems.truncate(said);
        shape
    }

    fn narrow(&mut self, path: Vec<String>, word: &str, other: &Shape) {
        let now = self.known(&path);
        let left = match (word, &now, other) {
            ("==", Shape::Text(None) | Shape::Any, Shape::Text(Some(_))) => other.clone(),
            ("==", Shape::Text(Some(options)), Shape::Text(Some(only))) => {
                Shape::Text(Some(options.iter().filter(|option| only.contains(option)).cloned().collect()))
            }
            ("!=", Shape::Text(Some(options)), Shape::Text(Some(not))) if not.len() == 1 => {
                Shape::Text(Some(options.iter().filter(|option| !not.contains(option)).cloned().collect()))
            }
            ("in", _, Shape::Range(ends)) => match between(&now, ends, (Some(ends.low), Some(ends.high))) {
                Some(shape) => shape,
                None => return,
            },
            ("<" | "<=" | ">" | ">=" | "==", _, Shape::Quantity(limit)) => {
                let ends = match word {
                    "<" => (None, Some(limit.high - limit.high.abs() * CLOSE)),
                    "<=" => (None, Some(limit.high)),
                    ">" => (Some(limit.low + limit.low.abs() * CLOSE), None),
                    ">=" => (Some(limit.low), None),
                    _ => (Some(limit.low), Some(limit.high)),
                };
                match between(&now, limit, ends) {
                    Some(shape) => shape,
                    None => return,
                }
            }
            _ => return,
        };
        self.narrowed.push((path, left));
    }
}

/// `None` where it says nothing new, or where nothing is left: that has been found out by comparing.
fn between(now: &Shape, like: &Measured, (low, high): (Option<f64>, Option<f64>)) -> Option<Shape> {
    let now = match now {
        Shape::Quantity(now) => now.clone(),
        // What can be compared with a quantity is one of its dimension.
        Shape::Any => Measured::any(like.sample.clone()),
        _ => return None,
    };
    let low = low.filter(|low| low.is_finite()).map_or(now.low, |low| low.max(now.low));
    let high = high.filter(|high| high.is_finite()).map_or(now.high, |high| high.min(now.high));
    (low <= high).then(|| Shape::Quantity(Measured { low, high, ..now }))
}

/// Of a name, or of properties of one.
fn path_of(expr: &Expr) -> Option<Vec<String>> {
    match expr {
        Expr::Variable(parts, ..) if parts.2.is_empty() => Some(vec![parts.1.to_string()]),
        Expr::Dot(parts, ..) => {
            let mut path = path_of(&parts.lhs)?;
            let mut rest = &parts.rhs;
            loop {
                match rest {
                    Expr::Property(named, _) => {
                        path.push(named.2.to_string());
                        return Some(path);
                    }
                    Expr::Dot(chain, ..) => {
                        let Expr::Property(named, _) = &chain.lhs else { return None };
                        path.push(named.2.to_string());
                        rest = &chain.rhs;
                    }
                    _ => return None,
                }
            }
        }
        _ => None,
    }
}
