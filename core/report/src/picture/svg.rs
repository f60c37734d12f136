//! The few shapes that pictures are made of. A template writes them, and escapes what was entered.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct Svg {
    pub width: f64,
    pub height: f64,
    pub shapes: Vec<Shape>,
    /// What is to be seen, for who does not see it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub says: String,
    /// The same in numbers.
    pub table: Table,
}

#[derive(Clone, Debug, Default, Serialize)]
pub struct Table {
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

/// `class` says what it stands for; the style sheet says how that looks, on a screen by day and night and on paper.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "is", rename_all = "lowercase")]
pub enum Shape {
    Line { x1: f64, y1: f64, x2: f64, y2: f64, class: &'static str },
    Rect { x: f64, y: f64, width: f64, height: f64, class: &'static str },
    Circle { x: f64, y: f64, r: f64, class: &'static str },
    Path { d: String, class: &'static str },
    Text { x: f64, y: f64, class: &'static str, text: String },
}

impl Svg {
    pub fn new(width: f64, height: f64) -> Self {
        Self { width, height, shapes: Vec::new(), says: String::new(), table: Table::default() }
    }

    pub fn line(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64), class: &'static str) {
        self.shapes.push(Shape::Line { x1: tenth(x1), y1: tenth(y1), x2: tenth(x2), y2: tenth(y2), class });
    }

    pub fn rect(&mut self, (x, y): (f64, f64), width: f64, height: f64, class: &'static str) {
        let (width, height) = (tenth(width.max(0.0)), tenth(height.max(0.0)));
        self.shapes.push(Shape::Rect { x: tenth(x), y: tenth(y), width, height, class });
    }

    pub fn circle(&mut self, (x, y): (f64, f64), r: f64, class: &'static str) {
        self.shapes.push(Shape::Circle { x: tenth(x), y: tenth(y), r, class });
    }

    /// A line through points.
    pub fn path(&mut self, points: &[(f64, f64)], class: &'static str) {
        let mut d = String::new();
        for (index, (x, y)) in points.iter().enumerate() {
            d.push_str(&format!("{}{} {}", if index == 0 { "M" } else { "L" }, tenth(*x), tenth(*y)));
        }
        self.shapes.push(Shape::Path { d, class });
    }

    pub fn text(&mut self, (x, y): (f64, f64), class: &'static str, text: impl Into<String>) {
        self.shapes.push(Shape::Text { x: tenth(x), y: tenth(y), class, text: text.into() });
    }
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
