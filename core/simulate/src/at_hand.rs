//! The job that is answered: without a disk, or with a journal that is kept. Both are the machine that everybody answers.

use standpipe_job::{Given, Input, Machine, Moment, NotKept, OpenJob, Origin, Record, Refusal, State, What, When};

/// A job that takes inputs at the times that it is told.
pub trait AtHand {
    fn machine(&self) -> &Machine;
    fn state(&self) -> &State;
    /// Gives the events that an input led to.
    fn give(&mut self, input: Told) -> Result<Vec<Record>, Refusal>;
}

/// An input by the clock of a model.
pub struct Told {
    pub at: Moment,
    pub entered_at: Option<Moment>,
    pub by: String,
    pub what: What,
}

/// A job of which only the state is kept.
pub struct Passing<'a> {
    machine: &'a Machine,
    state: State,
}

impl<'a> Passing<'a> {
    pub fn new(machine: &'a Machine) -> Self {
        Self { machine, state: State::default() }
    }
}

impl AtHand for Passing<'_> {
    fn machine(&self) -> &Machine {
        self.machine
    }

    fn state(&self) -> &State {
        &self.state
    }

    fn give(&mut self, told: Told) -> Result<Vec<Record>, Refusal> {
        let Told { at, entered_at, by, what } = told;
        let input = Input { at, entered_at, by, origin: Origin::Answers, what };
        let (state, records) = self.machine.decided(&self.state, &input)?;
        self.state = state;
        Ok(records)
    }
}

impl AtHand for OpenJob {
    fn machine(&self) -> &Machine {
        OpenJob::machine(self)
    }

    fn state(&self) -> &State {
        OpenJob::state(self)
    }

    fn give(&mut self, told: Told) -> Result<Vec<Record>, Refusal> {
        let Told { at, entered_at, by, what } = told;
        let before = self.records().len();
        let when = When::Told { at, entered_at };
        match OpenJob::give(self, Given { id: None, on: None, via: None, by, origin: Origin::Answers, when, what }, at)
        {
            Ok(_) => Ok(self.records()[before..].to_vec()),
            Err(NotKept::Refused(refusal)) => Err(*refusal),
            Err(other) => {
                let place = standpipe_diagnostic::source::Place::whole(&standpipe_diagnostic::source::Source::new(
                    "<journal>",
                    "",
                ));
                let problem = other.at(&place);
                Err(Refusal::new(problem.code, problem.message))
            }
        }
    }
}
