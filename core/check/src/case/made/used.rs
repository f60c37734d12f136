//! What the expressions of a plan look at: a text that none of them does can be left out, and nothing comes out otherwise.

use indexmap::IndexSet;

use standpipe_job::plan::Plan;
use standpipe_procedure::{Expr, Next, Progress, Step, With};

pub struct Used(IndexSet<String>);

impl Used {
    pub fn by(plan: &Plan) -> Self {
        let mut used = IndexSet::new();
        let mut add = |expr: &Expr| {
            used.extend(expr.names(&plan.scripts).map(|name| name.path.join(".")));
        };
        for procedure in plan.procedures.values() {
            for step in procedure.all_steps() {
                of_step(step, &mut add);
            }
            procedure.tag.iter().filter_map(|line| line.when.as_ref()).for_each(&mut add);
            procedure.abandon_when.iter().for_each(&mut add);
            procedure.points.values().chain(procedure.columns.values()).for_each(&mut add);
        }
        Self(used)
    }

    /// Whether any looks at the path, at what stands below it, or at what it stands in.
    pub fn has(&self, path: &str) -> bool {
        let within = |outer: &str, inner: &str| inner.strip_prefix(outer).is_some_and(|rest| rest.starts_with('.'));
        self.0.iter().any(|used| used == path || within(used, path) || within(path, used))
    }
}

fn of_step(step: &Step, add: &mut dyn FnMut(&Expr)) {
    step.when.iter().for_each(&mut *add);
    step.gate.iter().for_each(|gate| add(&gate.must));
    step.kind.expressions().into_iter().for_each(&mut *add);
    match step.kind.next(&Progress::default()) {
        Next::Call { with: With::Exprs(with), .. } => with.values().for_each(add),
        Next::Give { expr, .. } => add(expr),
        _ => {}
    }
}
