//! A procedure as work: its steps in the order in which a job goes, what each reads and which step gives that, and how far each
//! family comes.

use indexmap::{IndexMap, IndexSet};

use super::families::variants;
use super::reach::Reach;
use super::stock::Stock;
use super::tree::Tree;
use standpipe_form::{Family, Form};
use standpipe_procedure::{Children, Expr, LeftOut, Next, Procedure, Progress, Step, With};

/// A procedure with all that it includes.
pub struct Course<'a> {
    /// In the order of the work.
    pub stops: Vec<Stop<'a>>,
    /// Steps that overlays took out.
    pub left_out: Vec<&'a LeftOut>,
    /// The form whose families it is for.
    pub form: Option<&'a Form>,
    /// Every family of its form, each variant by itself.
    pub ways: Vec<Way<'a>>,
}

/// One step.
pub struct Stop<'a> {
    /// As checked.
    pub step: &'a Step,
    /// The procedure that it is written in.
    pub procedure: &'a Procedure,
    /// How many blocks and procedures are around it.
    pub depth: usize,
    /// Readings and results that its conditions and calculations use.
    pub reads: Vec<Read>,
    /// Fields of the family, of the job and of the shop that they use.
    pub facts: Vec<String>,
}

/// A name that is used, and where it is given.
pub struct Read {
    /// As expressions call it.
    pub name: String,
    /// Steps that give it before, or at, the one that uses it; where there is none, those that give it in an earlier round.
    pub from: Vec<String>,
}

/// How far one family comes.
pub struct Way<'a> {
    /// Which one.
    pub family: &'a Family,
    /// Its variant, where it has some.
    pub variant: Option<&'a str>,
    /// Steps that it is led around, and what is inside them.
    pub around: Vec<&'a str>,
    /// Fields that it needs and does not say.
    pub lacks: Vec<String>,
}

/// `None` where there is no such procedure.
pub fn course<'a>(stock: &'a Stock, id: &str) -> Option<Course<'a>> {
    let root = stock.procedures.get(id)?;
    let tree = Tree::new(stock, root);
    let mut walk = Walk { stock, stops: Vec::new(), left_out: Vec::new(), within: Vec::new() };
    walk.procedure(root, 0);
    let Walk { mut stops, left_out, .. } = walk;
    sources(&mut stops);
    let mut ways = Vec::new();
    for family in stock.families.values().filter(|family| tree.form.is_some_and(|form| form.id == family.form)) {
        for variant in variants(family) {
            let facts = family.known(variant);
            let reach = Reach::of(&tree, facts);
            let needed: IndexSet<&String> = reach.needed.iter().map(|(path, _)| path).collect();
            let lacks = needed.into_iter().filter(|path| facts.value(path).is_none_or(|value| value.is_unknown()));
            let lacks = lacks.cloned().collect();
            let around =
                stops.iter().map(|stop| stop.step.id.as_str()).filter(|id| !reach.reached.contains(id)).collect();
            ways.push(Way { family, variant, around, lacks });
        }
    }
    Some(Course { stops, left_out, form: tree.form, ways })
}

struct Walk<'a> {
    stock: &'a Stock,
    stops: Vec<Stop<'a>>,
    left_out: Vec<&'a LeftOut>,
    /// Procedures that enclose the present step: a circle must not be followed.
    within: Vec<&'a str>,
}

impl<'a> Walk<'a> {
    fn procedure(&mut self, procedure: &'a Procedure, depth: usize) {
        if self.within.contains(&procedure.id.as_str()) {
            return;
        }
        self.within.push(&procedure.id);
        self.left_out.extend(&procedure.left_out);
        self.steps(&procedure.steps, procedure, depth);
        self.within.pop();
    }

    fn steps(&mut self, steps: &'a [Step], procedure: &'a Procedure, depth: usize) {
        for step in steps {
            let (reads, facts) = self.used(step);
            self.stops.push(Stop { step, procedure, depth, reads, facts });
            match step.kind.children() {
                Children::Steps(children) => self.steps(children, procedure, depth + 1),
                Children::Procedure(id) => {
                    if let Some(included) = self.stock.procedures.get(id.as_str()) {
                        self.procedure(included, depth + 1);
                    }
                }
                Children::None => {}
            }
        }
    }

    fn used(&self, step: &Step) -> (Vec<Read>, Vec<String>) {
        let (mut names, mut facts): (IndexSet<String>, IndexSet<String>) = Default::default();
        let mut expressions: Vec<&Expr> = step.when.iter().chain(step.gate.as_ref().map(|gate| &gate.must)).collect();
        expressions.extend(step.kind.expressions());
        if let Next::Call { with: With::Exprs(with), .. } = step.kind.next(&Progress::default()) {
            expressions.extend(with.values());
        }
        for name in expressions.into_iter().flat_map(|expr| expr.names(&self.stock.scripts)) {
            match name.path[0].as_str() {
                "spec" | "job" | "shop" => facts.insert(name.path.join(".")),
                "round" => false,
                first => names.insert(first.to_owned()),
            };
        }
        let reads = names.into_iter().map(|name| Read { name, from: Vec::new() }).collect();
        (reads, facts.into_iter().collect())
    }
}

/// Which steps give what is read.
fn sources(stops: &mut [Stop<'_>]) {
    let mut given: IndexMap<String, Vec<(usize, String)>> = IndexMap::new();
    for (at, stop) in stops.iter().enumerate() {
        let fields = stop.step.kind.fields().iter().map(|field| &field.name);
        let names: IndexSet<&str> = fields.chain(stop.step.kind.gives()).map(|name| name.as_str()).collect();
        for name in names {
            given.entry(name.to_owned()).or_default().push((at, stop.step.id.value.clone()));
        }
    }
    // A block is judged when all in it is done.
    let depths: Vec<usize> = stops.iter().map(|stop| stop.depth).collect();
    for (at, stop) in stops.iter_mut().enumerate() {
        let inside = depths[at + 1..].iter().take_while(|depth| **depth > stop.depth).count();
        let end = at + inside;
        for read in &mut stop.reads {
            let Some(all) = given.get(&read.name) else { continue };
            let before = || all.iter().filter(|(given, _)| *given <= end);
            let wanted: Vec<_> = if before().next().is_some() { before().collect() } else { all.iter().collect() };
            read.from = wanted.into_iter().map(|(_, id)| id.clone()).collect();
        }
    }
}
