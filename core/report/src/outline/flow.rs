//! The flow of a procedure as a picture: sections and steps from top to bottom, blocks that are done again, gates, and where each
//! leads when it is not met.

use serde::Serialize;

use super::{OutlineView, Step, all};
use crate::count;
use crate::picture::{Svg, Table};

/// As wide as every other picture: a phone shows it as it is.
const WIDTH: f64 = 360.0;
const ROW: f64 = 23.0;
/// Where the line lies that joins everything.
const SPINE: f64 = 34.0;
/// Of a procedure with more steps than this, sections, blocks and gates alone are drawn.
const EVERY: usize = 40;

/// The picture, as a template takes it.
#[derive(Debug, Serialize)]
pub struct Flow {
    id: &'static str,
    title: &'static str,
    says: String,
    svg: Svg,
}

struct Row<'a> {
    depth: usize,
    step: &'a Step,
}

#[derive(Default)]
struct Rows<'a> {
    list: Vec<Row<'a>>,
    /// First and last row of each block that is done again.
    again: Vec<(usize, usize)>,
}

impl<'a> Rows<'a> {
    fn add(&mut self, steps: &'a [Step], depth: usize, every: bool) {
        for step in steps {
            let is_block = !step.steps.is_empty();
            let first = self.list.len();
            if is_block || step.gate.is_some() || every {
                self.list.push(Row { depth, step });
            }
            if is_block {
                self.add(&step.steps, depth + 1, every);
                if step.kind == "repeat" {
                    self.again.push((first, self.list.len() - 1));
                }
            }
        }
    }
}

pub fn flow(view: &OutlineView) -> Flow {
    let steps = all(&view.steps);
    let mut rows = Rows::default();
    rows.add(&view.steps, 0, steps.len() <= EVERY);
    let gates = |steps: &[&Step]| steps.iter().filter(|step| step.gate.is_some()).count();
    let mut svg = Svg::new(WIDTH, rows.list.len() as f64 * ROW + 8.0);
    let middle = |row: usize| row as f64 * ROW + ROW / 2.0 + 4.0;
    if rows.list.len() > 1 {
        svg.line((SPINE, middle(0)), (SPINE, middle(rows.list.len() - 1)), "axis");
    }
    for (first, last) in &rows.again {
        // One whose steps are not drawn leads back to itself.
        let end = if first == last { middle(*first) + ROW / 2.0 } else { middle(*last) };
        let (top, out) = (middle(*first), SPINE - 20.0);
        svg.path(&[(SPINE - 7.0, end), (out, end), (out, top), (SPINE - 8.0, top)], "curve beyond");
        svg.path(&[(SPINE - 13.0, top - 4.0), (SPINE - 8.0, top), (SPINE - 13.0, top + 4.0)], "curve");
    }
    for (index, row) in rows.list.iter().enumerate() {
        draw(&mut svg, row, middle(index));
    }
    let blocks = view.steps.iter().filter(|step| !step.steps.is_empty());
    let whole = vec!["all of it".to_owned(), steps.len().to_string(), gates(&steps).to_string()];
    let listed = |step: &Step| {
        let inside = all(&step.steps);
        vec![step.title.clone(), inside.len().to_string(), gates(&inside).to_string()]
    };
    svg.table = Table {
        head: ["block", "steps", "gates"].map(str::to_owned).to_vec(),
        rows: blocks.map(listed).chain([whole]).collect(),
    };
    let says = format!(
        "{}, {}, from top to bottom. Beside a gate stands what follows where it is not met; a dashed line leads back to the \
         beginning of what is done again.",
        count(steps.len(), "step"),
        count(gates(&steps), "gate"),
    );
    Flow { id: "flow", title: "The flow", says, svg }
}

fn draw(svg: &mut Svg, row: &Row<'_>, y: f64) {
    let step = row.step;
    let x = SPINE;
    let is_block = !step.steps.is_empty();
    match (&step.gate, is_block, step.kind) {
        (Some(_), false, _) => {
            svg.path(&[(x - 7.0, y), (x, y - 7.0), (x + 7.0, y), (x, y + 7.0), (x - 7.0, y)], "spot");
        }
        (_, true, "repeat") => svg.circle((x, y), 6.0, "spot"),
        (_, true, _) => svg.rect((x - 5.0, y - 5.0), 10.0, 10.0, "bar"),
        _ => svg.circle((x, y), 3.0, "dot"),
    }
    let leads = match (&step.gate, is_block) {
        (Some(gate), _) => format!("else {}", gate.briefly),
        (None, true) => count(all(&step.steps).len(), "step"),
        _ => String::new(),
    };
    let indent = 8.0 * row.depth.min(4) as f64;
    let class = if is_block && row.depth == 0 { "strong" } else { "small" };
    // By how wide letters are on average; what is cut stands in full in the list below.
    let per_letter = if is_block && row.depth == 0 { 7.8 } else { 6.2 };
    let room = WIDTH - x - 26.0 - indent - 6.2 * leads.chars().count() as f64;
    svg.text((x + 14.0 + indent, y + 4.0), class, cut(&step.title, (room / per_letter) as usize));
    if !leads.is_empty() {
        svg.text((WIDTH - 4.0, y + 4.0), "small end", leads);
    }
}

fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}
